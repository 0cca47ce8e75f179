"""What the commands write, through the one place that loses nothing."""

from stopout.folders import check_free, check_replaceable, write_file, write_folder

__all__ = ["check_free", "check_replaceable", "write_file", "write_folder"]
