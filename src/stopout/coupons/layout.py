"""What is on a coupon and where: the records, and coupon.json to and fro.

Millimetres, origin at the blank's lower left as worked, x right, y up. On a coupon worked on the
back of clear plastic a scan through the front shows the mirror image about the vertical centre
line; the coupon itself is always described as worked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal, TypeVar, cast

from stopout.errors import CouponError
from stopout.values import Axis, Box

FORMAT = "stopout-coupon-1"

Point = tuple[float, float]
Kind = Literal["clearing", "etch"]
R = TypeVar("R")


@dataclass(frozen=True, slots=True, kw_only=True)
class RegistrationMark:
    """A cleared disc whose centre registers the scan."""

    centre_mm: Point
    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseLine:
    """One single beam line. `line_dose_j_per_mm` is power / speed times `passes`.

    The ends are those of the beam's centre with the beam on; every pass runs from the first to
    the last. A line along x measures the spot across y.
    """

    id: str
    from_mm: Point
    to_mm: Point
    line_dose_j_per_mm: float
    power_fraction: float
    speed_mm_s: float
    passes: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A straight opening in the resist; the ends are those of the opening on its centre line."""

    id: str
    from_mm: Point
    to_mm: Point
    opening_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Land:
    """A straight land of resist, by its centre line, between two openings `opening_mm` wide."""

    id: str
    from_mm: Point
    to_mm: Point
    land_mm: float
    opening_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpacingPatch:
    """A square filled with parallel lines at `spacing_mm`; `line_direction` is their direction."""

    id: str
    box_mm: Box
    spacing_mm: float
    line_direction: Axis = "x"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleared:
    """Anything else that is cleared: labels, the frames of combs, and the like."""

    box_mm: Box
    what: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tooth:
    """One line of a comb, from the beam's switching on to its switching off.

    Teeth of one comb have the same two ends, run alternately to and fro, and lie side by side.
    """

    from_mm: Point
    to_mm: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Comb:
    """A two-direction timing comb: a late beam shifts its teeth apart by 2 x speed x delay.

    `axis` is the direction of travel along the teeth.
    """

    id: str
    axis: Axis
    speed_mm_s: float
    power_fraction: float
    teeth: tuple[Tooth, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pit:
    """A rectangular opening in which the etched depth is measured by hand."""

    id: str
    box_mm: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class Star:
    """A star of narrow wedges that shows how far etched corners round off."""

    id: str
    centre_mm: Point
    outer_mm: float
    inner_mm: float
    points: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """A line of small lettering by which the smallest readable size is judged."""

    id: str
    box_mm: Box
    text: str
    height_mm: float
    stroke_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """What the coupon was made of and on: what the shop book files its numbers under.

    `machine` holds the machine's numbers (spot, wavelength, power, step), by the job file's words,
    so that another machine is never taken for this one. `power_w` is the optical power at
    `power_fraction` 1.

    `spot_x_mm`, `spot_y_mm` (1/e^2 full widths), `wavelength_nm` and `power_w` are what tells one
    machine from another in the shop book; `substrate` is `metal` or `plastic`; strength,
    temperature and agitation are those of the bath that the job asks for.
    """

    job: str = ""
    material: str = ""
    finish: str = ""
    worked_side: str = "front"
    resist: str = ""
    colour: str = ""
    coats: int = 1
    thickness_um: float | None = None
    power_w: float | None = None
    machine: str = ""
    spot_x_mm: float | None = None
    spot_y_mm: float | None = None
    wavelength_nm: float | None = None
    substrate: str = ""
    etchant: str = ""
    strength_g_per_l: float | None = None
    temperature_degc: float | None = None
    agitation: str = ""
    depth_mm: float | None = None
    job_sha256: str = ""
    coupon_sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CouponLayout:
    """A whole coupon as worked."""

    kind: Kind
    width_mm: float
    height_mm: float
    marks: tuple[RegistrationMark, ...]
    lines: tuple[DoseLine, ...] = ()
    slots: tuple[Slot, ...] = ()
    patches: tuple[SpacingPatch, ...] = ()
    other: tuple[Cleared, ...] = ()
    lands: tuple[Land, ...] = ()
    combs: tuple[Comb, ...] = ()
    pits: tuple[Pit, ...] = ()
    stars: tuple[Star, ...] = ()
    lettering: tuple[Lettering, ...] = ()
    identity: Identity = Identity()


def layout_to_dict(layout: CouponLayout) -> dict[str, Any]:
    """The coupon as the keys of coupon.json, ready for `json.dumps`."""
    plain = cast(dict[str, Any], _plain(asdict(layout)))
    return {"format": FORMAT, **plain}


def layout_from_dict(data: Mapping[str, Any]) -> CouponLayout:
    """The coupon that the keys of a coupon.json describe; keys it does not know are left alone.

    Parameters
    ----------
    data : mapping
        What `json.loads` made of a coupon.json.

    Returns
    -------
    CouponLayout
        The coupon, mm as worked.

    Raises
    ------
    CouponError
        Where it is another format, or a key is missing or not what it should be.
    """
    if not isinstance(data, Mapping) or data.get("format") != FORMAT:
        found = data.get("format") if isinstance(data, Mapping) else None
        raise CouponError(
            f'coupon.json: format is {found!r}; "{FORMAT}" is what `stopout coupon` writes.'
        )
    kind = data.get("kind")
    if kind not in ("clearing", "etch"):
        raise CouponError(f'coupon.json: kind is {kind!r}; it must be "clearing" or "etch".')
    return CouponLayout(
        kind=kind,
        width_mm=_number(data.get("width_mm"), "width_mm"),
        height_mm=_number(data.get("height_mm"), "height_mm"),
        marks=_items(data, "marks", RegistrationMark),
        lines=_items(data, "lines", DoseLine),
        slots=_items(data, "slots", Slot),
        patches=_items(data, "patches", SpacingPatch),
        other=_items(data, "other", Cleared),
        lands=_items(data, "lands", Land),
        combs=_items(data, "combs", Comb),
        pits=_items(data, "pits", Pit),
        stars=_items(data, "stars", Star),
        lettering=_items(data, "lettering", Lettering),
        identity=_record(data.get("identity", {}), "identity", Identity),
    )


def _plain(value: Any) -> Any:
    """Tuples as lists, all the way down."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def _items(data: Mapping[str, Any], key: str, kind: Callable[..., R]) -> tuple[R, ...]:
    items = data.get(key, [])
    if not isinstance(items, list):
        raise CouponError(f"coupon.json: {key} must be a list.")
    return tuple(_record(item, f"{key}[{k}]", kind) for k, item in enumerate(items, 1))


def _record(item: Any, where: str, kind: Callable[..., R]) -> R:
    """One record from its keys, each checked by what its field holds."""
    if not isinstance(item, Mapping):
        raise CouponError(f"coupon.json: {where} must be an object with named values.")
    given = {
        field.name: _value(item[field.name], f"{where}.{field.name}", str(field.type))
        for field in fields(cast(Any, kind))
        if field.name in item
    }
    try:
        return kind(**given)
    except TypeError:
        wanted = ", ".join(field.name for field in fields(cast(Any, kind)))
        raise CouponError(f"coupon.json: {where} lacks a value; it holds {wanted}.") from None


def _value(value: Any, where: str, kind: str) -> Any:
    if value is None and "None" in kind:
        return None
    if kind.startswith("tuple[Tooth"):
        return _items({"teeth": value}, "teeth", Tooth)
    if kind in ("Point", "Box"):
        count = 2 if kind == "Point" else 4
        if not isinstance(value, list | tuple) or len(value) != count:
            raise CouponError(f"coupon.json: {where} must be {count} numbers in mm.")
        return tuple(_number(part, where) for part in value)
    if kind == "int":
        number = _number(value, where)
        if number != int(number) or number < 1:
            raise CouponError(f"coupon.json: {where} is {value!r}; it must be a whole number.")
        return int(number)
    if kind.startswith("float"):
        return _number(value, where)
    if kind == "Axis" and value not in ("x", "y"):
        raise CouponError(f'coupon.json: {where} is {value!r}; it must be "x" or "y".')
    if not isinstance(value, str):
        raise CouponError(f"coupon.json: {where} is {value!r}; it must be text.")
    return value


def _number(value: Any, where: str) -> float:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number or not -1e6 < value < 1e6:
        raise CouponError(f"coupon.json: {where} is {value!r}; it must be a number.")
    return float(value)
