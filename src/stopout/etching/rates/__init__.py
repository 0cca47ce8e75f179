"""How fast an etch goes, and what of past measurements still counts."""
