"""The stages of the work, in the order in which they are done."""
