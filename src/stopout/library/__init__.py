"""The roads that join reading, planning and writing: what `import stopout` and the commands use.

Each road is a module, imported where it is gone: none of them loads another's tools.
"""

__all__ = ["bath", "book", "job_file", "plan_files", "plans", "scans"]
