"""The whole road from a scan to the numbers, and what they are worth."""
