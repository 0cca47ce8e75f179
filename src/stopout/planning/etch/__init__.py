"""From openings to the etch, and its part of plan.json."""
