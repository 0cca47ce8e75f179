"""What only the commands that look at scans need."""
