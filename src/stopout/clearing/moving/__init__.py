"""How the machine gets along them: lead-ins, pieces of moves, and their time."""
