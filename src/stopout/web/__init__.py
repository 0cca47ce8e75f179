"""The bench page: the jobs of a folder in a browser. It drives no machine."""
