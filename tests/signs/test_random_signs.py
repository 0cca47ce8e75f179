"""Random signs: each is seen as drawn, or is stopped with the true cause; none fails inside."""

from __future__ import annotations

import pytest

from effort import tries
from signs.checking import check
from signs.random_signs import plain_picture, random_sign

PX_PER_MM = 10.0
EACH = 25


@pytest.mark.parametrize("first", range(0, tries(300, share=6), EACH))
def test_every_sign_is_seen_as_drawn_or_stopped_for_what_is_wrong(first):
    """Held against a painter of the tests' own, which shares nothing with the import."""
    signs = [random_sign(seed) for seed in range(first, first + EACH)]
    faults = [check(sign, plain_picture(sign, PX_PER_MM), PX_PER_MM) for sign in signs]
    assert [fault for fault in faults if fault] == []


def test_a_swapped_or_missing_coat_is_found_by_the_check_itself():
    """The check is no rubber stamp: a sign judged by another sign's picture is found out."""
    sign = next(s for s in map(random_sign, range(99)) if not s.mistake and len(s.coats) > 2)
    other = plain_picture(random_sign(sign.seed + 1), PX_PER_MM)
    assert check(sign, other, PX_PER_MM)
