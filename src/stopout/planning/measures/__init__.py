"""How wide, how far, how sure: what the rooms of the plan measure alike."""
