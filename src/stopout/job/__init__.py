"""The job and the shop's numbers as plain records that every room may hold."""

from stopout.job.record import (
    ArtworkRequest,
    Bath,
    Blank,
    Budget,
    Clearing,
    Coat,
    Etch,
    Film,
    Hole,
    Job,
    Limits,
    Registration,
    Shows,
    Stencil,
    Strength,
)

__all__ = [
    "ArtworkRequest",
    "Bath",
    "Blank",
    "Budget",
    "Clearing",
    "Coat",
    "Etch",
    "Film",
    "Hole",
    "Job",
    "Limits",
    "Registration",
    "Shows",
    "Stencil",
    "Strength",
]
