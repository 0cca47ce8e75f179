"""The sheet as PDF."""
