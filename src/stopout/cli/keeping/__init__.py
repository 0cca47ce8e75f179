"""The shop's own: equipment, records and times, as a command keeps them."""
