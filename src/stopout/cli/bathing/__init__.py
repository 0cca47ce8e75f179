"""What only `stopout bath` needs."""
