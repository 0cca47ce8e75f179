"""The piece as it will be: the preview and its panels."""
