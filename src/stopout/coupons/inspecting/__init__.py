"""What an inspection's findings are worth: the whole piece first, then dust from faults."""
