"""What is known of a laser and of paint under it before anything was measured: ranges."""

from __future__ import annotations

import math

from stopout.tables.find import entry
from stopout.values import Span

EMITTERS = ("blue-diode", "violet-diode", "near-infrared", "carbon-dioxide")
_PAINTS = ("dark-paint", "other-paint")
BEAM_FIGURES = ("wavelength", "spot", "power", "acceleration", "cornering", "step")
_DARK = ("black", "dark", "anthracite", "charcoal", "graphite")


def emitter_of(wavelength_nm: float) -> str:
    """The kind of emitter whose range a wavelength lies in, else the nearest kind."""

    def off(ident: str) -> float:
        span = _span("wavelength", ident)
        low, high = math.log(span.low / wavelength_nm), math.log(wavelength_nm / span.high)
        return max(low, high, 0.0)

    return min(EMITTERS, key=off)


def emitter_spans(ident: str) -> dict[str, Span]:
    """The ranges of an emitter's figures, by their keys in the job file.

    Parameters
    ----------
    ident : str
        One of `EMITTERS`.
    """
    return {name: _span(name, ident) for name in BEAM_FIGURES}


def paint_threshold(colour: str) -> Span:
    """The dose that clears a paint, J per mm3 of its coat."""
    is_dark = any(word in colour.casefold() for word in _DARK)
    return _span("threshold", _PAINTS[0 if is_dark else 1])


def _span(name: str, ident: str) -> Span:
    found = entry("beams", ident).sourced(name)
    assert found.low is not None, name
    assert found.high is not None, name
    return Span(
        name=name,
        value=found.value,
        low=found.low,
        high=found.high,
        unit=found.unit,
        kind=found.kind,
        source=found.source_and_note,
        grade=found.grade,
    )
