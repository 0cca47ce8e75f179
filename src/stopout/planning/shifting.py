"""Records carried to where they lie: their regions, places, boxes and moves, however deep."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields, is_dataclass, replace
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely.geometry.base import BaseGeometry

from stopout.values import FloatArray, Moves

_T = TypeVar("_T")

# How fields of records that hold a place as two numbers are named.
PLACES = ("at_mm", "_at", "busiest_mm")
_BOXES = frozenset({"box_mm", "quiet_mm"})


def shifted(value: _T, by_mm: tuple[float, float]) -> _T:
    """Carry one record to its place: see `shifted_each`."""
    return shifted_each([value], [by_mm])[0]


def shifted_each(values: Sequence[_T], by_mm: ArrayLike) -> list[_T]:
    """Carry records to their places; all their regions at once.

    Parameters
    ----------
    values : sequence
        Regions, records, tuples of them. Fields that hold a place are told by their names.
    by_mm : (n, 2) array_like
        How far each goes.
    """
    by = np.asarray(by_mm, dtype=float).reshape(-1, 2)
    regions: list[BaseGeometry] = []
    homes: list[int] = []

    for home, value in enumerate(values):
        own = list(_regions_in(value))
        regions += own
        homes += [home] * len(own)
    laid: Iterator[BaseGeometry] = iter(_laid(regions, by[homes]))
    return [
        _carried(value, shift, "", lambda _: next(laid))
        for value, shift in zip(values, by, strict=True)
    ]


def _regions_in(value: Any) -> Iterator[BaseGeometry]:
    """Give a record's regions in the order in which they are carried."""
    if isinstance(value, BaseGeometry):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from _regions_in(one)
    elif is_dataclass(value) and not isinstance(value, (type, Moves)):
        for name in _names(type(value)):
            yield from _regions_in(getattr(value, name))


@lru_cache
def _names(kind: type) -> tuple[str, ...]:
    return tuple(part.name for part in fields(kind))


def _laid(regions: list[BaseGeometry], by: FloatArray) -> list[BaseGeometry]:
    laid = np.array(regions, dtype=object)
    xy, of = shapely.get_coordinates(laid, return_index=True)
    return shapely.set_coordinates(laid, xy + by[of]).tolist() if len(laid) else []


def _carried(
    value: Any, by: FloatArray, name: str, lay: Callable[[BaseGeometry], BaseGeometry]
) -> Any:
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    if isinstance(value, BaseGeometry):
        return lay(value)
    if isinstance(value, Moves):
        return replace(value, x_mm=value.x_mm + by[0], y_mm=value.y_mm + by[1])
    if isinstance(value, np.ndarray):
        return value + by if name.endswith(PLACES) else value
    if isinstance(value, tuple):
        return _carried_tuple(value, by, name, lay)
    if is_dataclass(value) and not isinstance(value, type):
        names = _names(type(value))
        return type(value)(
            **{name: _carried(getattr(value, name), by, name, lay) for name in names}
        )
    return value


def _carried_tuple(
    value: tuple[Any, ...], by: FloatArray, name: str, lay: Callable[[BaseGeometry], BaseGeometry]
) -> tuple[Any, ...]:
    x, y = float(by[0]), float(by[1])
    if name.endswith(PLACES):
        return (value[0] + x, value[1] + y)
    if name in _BOXES:
        return (value[0] + x, value[1] + y, value[2] + x, value[3] + y)
    return tuple(_carried(one, by, "", lay) for one in value)
