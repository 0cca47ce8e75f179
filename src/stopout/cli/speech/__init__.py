"""What the command line says, and how: the one door to the terminal, lines and help."""
