"""What is in the bath: its strength, how much of it, what it gives off and how it ages."""
