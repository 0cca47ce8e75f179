"""What is to be said of an etch: refusals, cautions, ceilings, and remedies."""
