"""Job and Plan records, and the one road from the first to the second."""
