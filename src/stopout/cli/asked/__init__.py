"""What a command was asked: its options, sizes, questions to the person and the shop book."""
