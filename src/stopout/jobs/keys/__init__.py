"""Every key of the job file: its form, unit, range, help and default."""
