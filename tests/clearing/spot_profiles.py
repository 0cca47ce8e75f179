"""The share of a line's dose per mm across its track: what marks are held against."""

from __future__ import annotations

import math

import numpy as np

from stopout.clearing.beam.spot import GaussianSpot


def profile_per_mm(spot, offset_mm, travel_deg):
    """The profile at offsets across the track; its integral is 1."""
    if isinstance(spot, GaussianSpot):
        w = spot.radius_across_mm(travel_deg)
        return math.sqrt(2 / math.pi) / w * np.exp(-2 * (offset_mm / w) ** 2)
    full, plateau = spot.trapezoid_mm(travel_deg)
    flank = (full - plateau) / 2
    beyond = np.abs(offset_mm) - plateau / 2
    flat = 2 / (full + plateau)
    if flank <= 1e-12 * full:
        return np.where(beyond <= 0, flat, 0.0)
    return flat * np.clip(1 - beyond / flank, 0.0, 1.0)
