"""Path data: the quick reader, and the one that names what is wrong, agree on everything."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from stopout.artwork.svg import pathdata
from stopout.artwork.svg.pathdata import PathDataError, segments

number = st.one_of(
    st.floats(-1e6, 1e6).map(repr),
    st.integers(-999, 999).map(str),
    st.sampled_from([".5", "-.25", "1.", "+3e2", "1e999"]),
)
command = st.builds(
    lambda name, numbers, gap: name + gap.join(numbers),
    st.sampled_from("MmLlHhVvCcSsQqTtAaZzex"),
    st.lists(number, max_size=8),
    st.sampled_from([" ", ",", "  ", ", ", "-"]),
)


@settings(max_examples=tries(400))
@given(st.lists(command, max_size=5), st.sampled_from(["M0 0", "m1,2 3 4", "", " ,M.5.5", "L1 1"]))
def test_path_data_read_by_commands_are_those_read_number_by_number(pieces, begin):
    def read(how):
        try:
            return how(data)
        except PathDataError as fault:
            return str(fault)

    data = begin + "".join(pieces)
    assert read(segments) == read(pathdata._by_tokens)
