"""Which files are ours, and how a folder is written so that nothing of anyone else's is lost."""

from stopout.folders.listing import Listing, listed, listing_of
from stopout.folders.seal import is_sealed, sealed
from stopout.folders.write import check_free, check_replaceable, write_file, write_folder

__all__ = [
    "Listing",
    "check_free",
    "check_replaceable",
    "is_sealed",
    "listed",
    "listing_of",
    "sealed",
    "write_file",
    "write_folder",
]
