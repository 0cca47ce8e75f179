"""What a plan has to say, each with its place and what would mend it."""
