"""Several pieces in one program or on one film: where they lie, and their coats joined."""
