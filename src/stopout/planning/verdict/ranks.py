"""Which findings a person must act on first: by what they do to the piece, and to the person."""

from __future__ import annotations

from stopout.values import Level

# What is read first: the piece says or shows something else than the drawing.
SPOILS = 0
# Then what changes what a person does, for safety.
SAFETY = 1
# Then what looks different, at a place.
LOOKS = 2
# Then the rest.
REST = 3

_SPOILS = (
    "cut-off",
    "artwork-broken",
    "part-lost",
    "hole-through-artwork",
    "artwork-at-rim",
    "parts-merged",
    "counter-closed",
    "inverted-artwork",
    "layer-covered",
    "tones-as-lines",
    "artwork-coarse",
    "hairlines",
    "coat-unseen",
    "colour-lost",
    "nothing-to-clear",
    "register-sliver",
    "front-differs",
)
_SAFETY = frozenset(
    {
        "gas",
        "chlorine",
        "chromate",
        "chromate-acknowledged",
        "hot-bath",
        "mixing-hot",
        "bath-decomposes",
        "bath-small",
        "resist-time",
        "resist-temperature",
        "resist-unfit",
        "resist-unknown",
        "voltage-lift",
        "pointer-strong",
        "beam-harms",
        "beam-marks",
        "beam-passes",
        "beam-untried",
        "etch-through",
        "thin-floor",
        "finish",
    }
)
# What the shop does not know yet: it comes before places, for it moves all of them.
_FIGURES = frozenset(
    {"machine-unmeasured", "dose-doubtful", "dose-implausible", "rate-doubtful", "factor-doubtful"}
)
# Kinds of words in the codes of what chemistry or beam forbid or warn of.
_WARNING_WORDS = ("under-the-beam", "-on-", "-bath", "acid", "persulfate", "hydrogen", "hazard")


def rank_of(code: str, level: Level, *, has_place: bool) -> tuple[int, int]:
    """Return the rank of a finding and its place among those of that rank; the least is first."""
    if code == "tones-as-lines" and level is Level.STOP:
        # A photograph taken for lines explains all that follows.
        return SPOILS, -1
    if code in _SPOILS and level is not Level.NOTE:
        return SPOILS, _SPOILS.index(code)
    if level is Level.NOTE:
        return REST, 1
    if code in _SAFETY or any(word in code for word in _WARNING_WORDS):
        return SAFETY, 0
    if code in _FIGURES:
        return LOOKS, -1
    return (LOOKS, 0) if has_place else (REST, 0)
