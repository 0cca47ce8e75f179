"""The sheet as one page for a phone."""
