"""A scan of a piece held against its plan."""
