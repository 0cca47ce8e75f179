"""The roads that join reading, planning and writing: what `import stopout` and the commands use."""
