"""The job file told: its keys listed, its reference page, its schema."""
