"""Coverage-guided fuzzing of the artwork readers: every input must be read or refused.

    python tests/bench/fuzz_artwork.py svg|image|pdf|dxf FOLDER -max_total_time=600

Needs the package atheris. FOLDER keeps the inputs that reached new code; anything but a clear
refusal ends the run with the input that did it (a crash file in the working folder). What was
found is kept in tests/artwork/test_hostile.py.
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

import atheris

import stopout
from stopout.errors import StopoutError
from stopout.job.record import ArtworkRequest, Blank

with atheris.instrument_imports(include=["stopout.artwork"]):
    _top = Path(stopout.__path__[0])
    for _name in sorted((_top / "artwork").rglob("[a-z]*.py")):
        _parts = _name.relative_to(_top).with_suffix("").parts
        importlib.import_module(".".join(("stopout", *_parts)))
    from stopout.artwork import read_artwork

BLANK = Blank(
    material="aluminium", width_mm=60.0, height_mm=40.0, thickness_mm=1.0, worked_side="front"
)
KIND = sys.argv[1] if len(sys.argv) > 1 else "svg"


def one(data):
    """Read one input; a clear refusal is as good as a drawing."""
    if KIND == "svg" and b"<" not in data[:8]:
        return
    try:
        read_artwork(data, ArtworkRequest(file="a", width_mm=40.0), BLANK, name="a")
    except StopoutError as fault:
        if not str(fault).strip():
            raise RuntimeError("a refusal without words") from fault


def main():
    """Run until time is up."""
    atheris.Setup([sys.argv[0], *sys.argv[2:]], one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
