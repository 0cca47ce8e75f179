"""Word-address program text: written, read back strictly, proven safe before it leaves.

The subset is that of docs/reference/program.md: `G21 G90`, the moves `G0` and `G1` with `X`, `Y`,
`F` and `S`, one code that enables the beam, `M5`, and `M0` between passes, in the block format of
ISO 6983-1.
"""

from stopout.program.bounds import bounds_moves
from stopout.program.detour import round_keep_outs
from stopout.program.proof import prove, prove_text
from stopout.program.read import count_stops, read_program
from stopout.program.relocate import Relocation, locate, relocate
from stopout.program.resume import Passage, first_move_at, moves_from_line, passages_at
from stopout.program.rework import moves_in_box
from stopout.program.write import as_written, write_program

__all__ = [
    "Passage",
    "Relocation",
    "as_written",
    "bounds_moves",
    "count_stops",
    "first_move_at",
    "locate",
    "moves_from_line",
    "moves_in_box",
    "passages_at",
    "prove",
    "prove_text",
    "read_program",
    "relocate",
    "round_keep_outs",
    "write_program",
]
