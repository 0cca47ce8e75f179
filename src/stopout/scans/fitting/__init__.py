"""From measured widths to the shop's numbers."""
