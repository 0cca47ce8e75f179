"""What comes after the etch: rinses, waste."""

from stopout.etching.after.neutralise import Declined, neutraliser_g, neutralising_ways
from stopout.etching.after.rinses import Rinses, plan_rinses, rinse_share, still_rinse_l

__all__ = [
    "Declined",
    "Rinses",
    "neutraliser_g",
    "neutralising_ways",
    "plan_rinses",
    "rinse_share",
    "still_rinse_l",
]
