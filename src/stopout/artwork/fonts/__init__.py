"""The fonts that lettering may use, and text shaped by them."""
