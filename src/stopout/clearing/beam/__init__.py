"""What one line of the beam clears: spot, mark, dose, focus and spacing."""
