"""Signs: which colour goes where, whether the front shows it, and what the reader makes of it."""
