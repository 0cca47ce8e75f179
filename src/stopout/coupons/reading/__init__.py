"""What a scan's numbers are worth: its tone, its common errors, its scale, what is refused."""
