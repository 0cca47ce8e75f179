"""What comes after the etch: rinses, waste, neutralising, and a bath kept for another day."""

from stopout.etching.after.control import (
    AirRegeneration,
    CausticBath,
    acid_to_add_ml,
    air_regeneration,
    caustic_bath,
    titrated_mol_per_l,
    water_to_add_l,
)
from stopout.etching.after.neutralise import (
    Declined,
    Neutralising,
    neutraliser_g,
    neutralising_ways,
)
from stopout.etching.after.rinses import Rinses, plan_rinses, rinse_share, still_rinse_l

__all__ = [
    "AirRegeneration",
    "CausticBath",
    "Declined",
    "Neutralising",
    "Rinses",
    "acid_to_add_ml",
    "air_regeneration",
    "caustic_bath",
    "neutraliser_g",
    "neutralising_ways",
    "plan_rinses",
    "rinse_share",
    "still_rinse_l",
    "titrated_mol_per_l",
    "water_to_add_l",
]
