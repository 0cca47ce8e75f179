"""What single values cannot tell: how keys of a job go together."""
