"""The job and the shop's numbers as plain records that every room may hold."""
