"""How long and how much: time, memory and progress of what a command asks for."""
