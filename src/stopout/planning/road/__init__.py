"""The one road from a validated job to a plan."""
