"""Word-address program text: written, read back strictly, proven safe before it leaves.

The subset is that of docs/reference/program.md: `G21 G90`, the moves `G0` and `G1` with `X`, `Y`,
`F` and `S`, one code that enables the beam, and `M5`, in the block format of ISO 6983-1.
"""

from stopout.program.bounds import bounds_moves
from stopout.program.proof import Violation, prove, prove_text
from stopout.program.read import read_program
from stopout.program.write import write_program

__all__ = [
    "Violation",
    "bounds_moves",
    "prove",
    "prove_text",
    "read_program",
    "write_program",
]
