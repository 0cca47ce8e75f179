"""The program that shows where a job will lie, for aligning the blank."""

from __future__ import annotations

import numpy as np

from stopout.values import Box, Machine, Moves


def bounds_moves(
    motion_box: Box, artwork_box: Box, *, machine: Machine, speed_mm_s: float
) -> Moves:
    """Trace the box of all motion with the beam off, then the artwork's box at pointer power.

    Parameters
    ----------
    motion_box, artwork_box : (x0, y0, x1, y1)
        In mm from the blank's corner; `motion_box` takes in runs-up and runs-out.
    machine : Machine
        Supplies the top speed and `pointer_fraction`; at 0 the artwork's box is traced dark.
    speed_mm_s : float
        Speed along both boxes, slow enough to be watched.

    Returns
    -------
    Moves
        From rest at (0, 0). The pointer is lit only at speed: it runs up before the lower left
        corner and runs out beyond it.
    """
    run_mm = speed_mm_s**2 / (2 * machine.acceleration_mm_s2)
    x0, y0 = artwork_box[0], artwork_box[1]
    dark = _corners(motion_box)
    lit = np.vstack([[x0 - run_mm, y0], _corners(artwork_box), [x0, y0 - run_mm]])
    points = np.vstack([dark, lit])
    rapid = np.zeros(len(points), dtype=bool)
    rapid[[0, len(dark)]] = True
    power = np.zeros(len(points))
    power[len(dark) + 2 : len(dark) + 6] = machine.pointer_fraction
    return Moves(
        x_mm=points[:, 0],
        y_mm=points[:, 1],
        rapid=rapid,
        speed_mm_s=np.where(rapid, machine.top_speed_mm_s, speed_mm_s),
        power=power,
    )


def _corners(box: Box) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    x0, y0, x1, y1 = box
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]], dtype=float)
