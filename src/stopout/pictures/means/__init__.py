"""What pictures are drawn with: lines, letters, colours, a renderer."""
