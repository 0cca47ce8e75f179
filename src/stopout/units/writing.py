"""Numbers, times and given values as messages and sheets write them."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal


def format_number(value: float, *, digits: int | None = 4) -> str:
    """Write a number plainly: no exponent, no trailing zeros, whole digits always kept.

    `digits` counts significant digits; None gives the shortest text that reads back exactly.

    Examples
    --------
    >>> format_number(0.123456), format_number(1747200), format_number(-0.0)
    ('0.1235', '1747200', '0')
    """
    value = float(value)
    if not math.isfinite(value):
        return str(value)
    return _written(Decimal(repr(value)), digits, ROUND_HALF_EVEN)


def format_rounded(value: float) -> str:
    """Write a number to two digits, whole ones rounded too: 1234 is 1200."""
    return format_number(float(f"{value:.2g}"))


def format_least(value: float, *, digits: int = 2) -> str:
    """Write a number as `format_number` does, but rounded up: the least that will do.

    Examples
    --------
    >>> format_least(2.341), format_least(2.341, digits=3), format_least(0.1 + 0.2)
    ('2.4', '2.35', '0.3')
    """
    # What the last digits of a sum lie above a round number is not rounded up.
    return _written(Decimal(repr(float(value) * (1.0 - 1e-12))), digits, ROUND_CEILING)


def six_digits(value: float) -> float:
    """Keep six significant digits: more than any of it is known to, and they print alike."""
    return float(f"{float(value):.6g}")


def rounded_down(value: float, *, digits: int = 3) -> float:
    """Cut a number above zero to a few digits, so that what is set can be printed in full.

    Examples
    --------
    >>> rounded_down(0.123456), rounded_down(1747.0, digits=2), rounded_down(0.29)
    (0.123, 1700.0, 0.29)
    """
    unit = 10.0 ** (math.floor(math.log10(value)) - digits + 1)
    # What rounding leaves just under a step is that step.
    return six_digits(math.floor(value / unit + 1e-9) * unit)


def _written(exact: Decimal, digits: int | None, rounding: str) -> str:
    if digits is not None and exact:
        step = Decimal(1).scaleb(min(0, exact.adjusted() + 1 - digits))
        exact = exact.quantize(step, rounding)
    text = f"{exact:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def format_duration(time_s: float) -> str:
    """Write a time for a person: `8.5 s`, `12 min 30 s`, `2 h 05 min`.

    Under ten seconds to a tenth, under an hour to the second, above to the minute, from a thousand
    hours on to the hour.
    """
    if not math.isfinite(time_s):
        return f"{time_s} s"
    if abs(time_s) < 9.95:
        return f"{format_number(round(time_s, 1))} s"
    sign = "-" if time_s < 0 else ""
    seconds = round(abs(time_s))
    if seconds < 60:
        return f"{sign}{seconds} s"
    if seconds < 3600:
        return f"{sign}{seconds // 60} min {seconds % 60:02d} s"
    minutes = round(abs(time_s) / 60)
    if minutes >= 60_000:
        return f"{sign}{minutes / 60:.0f} h"
    return f"{sign}{minutes // 60} h {minutes % 60:02d} min"


def format_roughly(time_s: float) -> str:
    """Write an uncertain time, in whole minutes from a minute and a half on.

    Examples
    --------
    >>> format_roughly(40.0), format_roughly(1034.0), format_roughly(14081.0)
    ('40 s', '17 min', '3 h 55 min')
    """
    minutes = round(time_s / 60.0)
    if time_s < 90.0:
        return format_duration(time_s)
    return f"{minutes} min" if minutes < 60 else format_duration(60.0 * minutes)


def shown(value: object) -> str:
    """What was written, shortened, as a message shows it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}"
    if isinstance(value, str):
        # Control characters would break the one line that a message has.
        clean = "".join(c if c.isprintable() else "?" for c in value)
        return f'"{clean}"' if len(clean) <= 40 else f'"{clean[:37]}..."'
    if isinstance(value, float) and not math.isfinite(value):
        return f'"{value}"'
    text = str(value) if not isinstance(value, int) or abs(value) < 10**30 else "a huge number"
    return text if len(text) <= 40 else f"{text[:37]}..."
