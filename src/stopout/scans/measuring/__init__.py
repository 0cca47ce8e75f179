"""Widths, levels and delays in a registered scan."""
