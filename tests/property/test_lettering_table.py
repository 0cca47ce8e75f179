"""Two rows of the table in docs/explanation/tolerant-mask.md, reckoned again."""

import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "bench"))

from bench_mask import row  # noqa: E402

PAGE = ROOT / "docs" / "explanation" / "tolerant-mask.md"


@pytest.mark.parametrize(("height", "reach"), [(3, 0.05), (4, 0.10)])
def test_a_row_of_the_table_is_what_the_masks_do_today(height, reach):
    plain, widened, tolerant = row(height, reach)
    assert all(better < worse for better, worse in zip(tolerant.all, plain.all, strict=True))
    assert all(better <= worse for better, worse in zip(tolerant.all, widened.all, strict=True))
    (line,) = [
        line
        for line in PAGE.read_text(encoding="utf-8").splitlines()
        if line.startswith(f"| {height} | {reach:.2f} |")
    ]
    cells = [cell.strip() for cell in line.strip("|").split("|")][2:]
    written = np.array([[float(number) for number in cell.split("/")] for cell in cells])
    found = np.array([plain.all, widened.all, tolerant.all]).T * [[1000], [1000], [1]]
    # In the last printed digit but one.
    np.testing.assert_allclose(found, written, rtol=0.01, atol=0.011)
