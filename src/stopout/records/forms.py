"""Records to JSON and back: the one place where what comes from outside is validated."""

from __future__ import annotations

import datetime
import json
from dataclasses import MISSING, asdict, fields
from types import GenericAlias, UnionType
from typing import Annotated, Any, ClassVar, Literal, Union, get_args, get_origin, get_type_hints

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    create_model,
    model_validator,
)

from stopout.errors import BookError
from stopout.job.shop_numbers import (
    Bath,
    BathEvent,
    ClearingCalibration,
    Equipment,
    EtchCalibration,
    JobRecord,
    MachineIdentity,
    PieceRecord,
    RunTime,
    Timing,
)
from stopout.values import Measured

Record = ClearingCalibration | EtchCalibration | JobRecord | Bath | Timing | RunTime | Equipment
AGITATION = Literal["tray", "rocked", "bubbled", "spray"]
FINISH = Literal["bare", "anodised", "lacquered", "filmed"]


def _date(text: str) -> str:
    try:
        datetime.datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(
            'a date is written year-month-day, such as "2026-11-20", with or without a time'
        ) from None
    return text


def _day(text: str) -> str:
    if len(text) != 10:
        raise ValueError('a date is written year-month-day, such as "2026-11-20"')
    return _date(text)


def _pair(value: Any) -> Any:
    """Read a value alone, or [value, standard deviation]."""
    return tuple(value) if isinstance(value, list | tuple) else (value, 0.0)


def _measured(value: tuple[float, float]) -> Measured:
    if value[0] <= 0:
        raise ValueError("a measured value must be above zero")
    if value[1] < 0:
        raise ValueError("a standard deviation is not below zero")
    return Measured(value=value[0], sd=value[1])


def _from_zero(value: tuple[float, float]) -> Measured:
    if min(value) < 0:
        raise ValueError("neither a delay, a play nor a standard deviation is below zero")
    return Measured(value=value[0], sd=value[1])


_Number = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
MeasuredPair = Annotated[tuple[_Number, _Number], BeforeValidator(_pair), AfterValidator(_measured)]
Text = Annotated[str, Field(max_length=2000)]
Word = Annotated[str, Field(min_length=1, max_length=200)]
Day = Annotated[str, AfterValidator(_day)]
_Moment = Annotated[str, AfterValidator(_date)]
Degrees = Annotated[float, Field(gt=0, lt=100, allow_inf_nan=False)]


class RecordForm(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)
    makes: ClassVar[Any]

    def plain(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in type(self).model_fields}

    def made(self) -> Any:
        """The record, with those that lie in it."""
        return self.makes(**{name: _made(value) for name, value in self.plain().items()})


def _made(value: Any) -> Any:
    if isinstance(value, tuple):
        return tuple(map(_made, value))
    return value.made() if isinstance(value, RecordForm) else value


class _Piece(RecordForm):
    makes: ClassVar[Any] = PieceRecord
    piece: Word
    depth_mm: Annotated[tuple[Positive, ...], Field(strict=False, max_length=20)] = ()
    time_s: Positive | None = None
    before_g: Positive | None = None
    after_g: Positive | None = None
    is_good: bool | None = None
    note: Text = ""

    @model_validator(mode="after")
    def _loses_weight(self) -> _Piece:
        if self.before_g is not None and self.after_g is not None and self.after_g > self.before_g:
            raise ValueError(
                f"piece {self.piece} weighs {self.after_g:g} g after the etch and "
                f"{self.before_g:g} g before it: an etch takes weight away; weigh it again, or "
                "leave one of the two out"
            )
        return self


def _told_apart(pieces: tuple[_Piece, ...]) -> tuple[_Piece, ...]:
    names = [piece.piece for piece in pieces]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"piece {twice[0]} is there twice; each piece has one row")
    return pieces


PieceRows = Annotated[
    tuple[_Piece, ...], Field(strict=False, max_length=500), AfterValidator(_told_apart)
]

_FromZero = Annotated[tuple[_Number, _Number], BeforeValidator(_pair), AfterValidator(_from_zero)]
_Share = Annotated[float, Field(ge=-1, le=1)]
_Name = Annotated[str, Field(min_length=1, max_length=60)]


def _row(*parts: Any) -> Any:
    """A row of values; JSON gives a list for it."""
    return Annotated[GenericAlias(tuple, parts), Field(strict=False)]


# What a field's type alone does not say of it.
_BY_NAME: dict[str, Any] = {
    "date": Day,
    "at": _Moment,
    "agitation": AGITATION,
    "finish": FINISH,
    "temperature_degc": Degrees,
    "correlation": _row(_Share, _Share),
    "delay_ms": _row(_FromZero, _FromZero),
    "play_mm": _row(_FromZero, _FromZero),
    "metal_removed_g": NotNegative | None,
    "measured": PieceRows,
    # What equipment's figures may be, the job file's definition says where they are used.
    "keys": dict[str, Any],
}
_BY_TYPE = {float: Positive, int: Annotated[int, Field(ge=1)], Measured: MeasuredPair}


def _form(record: type[Any], **own: Any) -> type[RecordForm]:
    """The form of a record: each field as its name or its type asks, with the record's default."""
    hints = get_type_hints(record)
    made: dict[str, Any] = {}
    for field in fields(record):
        default = ... if field.default is MISSING else field.default
        if field.name != "ident":
            taken = _taken(hints[field.name], default)
            made[field.name] = ({**_BY_NAME, **own}.get(field.name, taken), default)
    form = create_model(record.__name__, __base__=RecordForm, **made)
    form.makes = record
    return form


def _taken(hint: Any, default: Any) -> Any:
    if hint is str:
        return Word if default is ... else Text
    if hint is float and default == 0.0:
        return NotNegative
    if get_origin(hint) in (Union, UnionType):
        return _taken(get_args(hint)[0], None) | None
    if get_origin(hint) is tuple:
        return _row(*(_taken(part, ...) for part in get_args(hint)))
    # A spot of nought is one that is not known.
    if hint is MachineIdentity:
        return _form(hint, spot_mm=_row(NotNegative, NotNegative))
    return _BY_TYPE.get(hint, hint)


_KINDS: dict[type[Any], str] = {
    ClearingCalibration: "clearing",
    EtchCalibration: "etch",
    JobRecord: "job",
    Bath: "bath",
    Timing: "timing",
    RunTime: "run",
}
_EQUIPMENT = _form(Equipment, name=_Name)
_FORMS = {
    **{kind: _form(record) for record, kind in _KINDS.items()},
    **dict.fromkeys(("machine", "paint", "tray", "limits", "price"), _EQUIPMENT),
}
_Event = _form(BathEvent)


def kind_of(record: Record) -> str:
    """Return the kind that a record is filed under, such as clearing or bath."""
    return record.kind if isinstance(record, Equipment) else _KINDS[type(record)]


def to_content(record: Record | BathEvent) -> dict[str, Any]:
    """Return a record as JSON takes it, without its number; measured values are [value, sd]."""
    content = {f.name: _plain(getattr(record, f.name)) for f in fields(record)}
    del content["ident"]
    return content


def _plain(value: Any) -> Any:
    if isinstance(value, Measured):
        return [value.value, value.sd]
    if isinstance(value, MachineIdentity | PieceRecord):
        return {name: _plain(part) for name, part in asdict(value).items()}
    if isinstance(value, tuple):
        return [_plain(part) for part in value]
    return value


def from_content(kind: str, content: Any, *, where: str) -> Record:
    """Return the record that a kind and its JSON content describe.

    Parameters
    ----------
    kind : str
        clearing, etch, job, bath, timing, run, machine, paint, tray or limits.
    content : object
        As `json.loads` gave it.
    where : str
        What to call the place in an error, such as the file's name.

    Raises
    ------
    BookError
        Naming each field that is wrong.
    """
    if kind not in _FORMS:
        known = ", ".join(_FORMS)
        raise BookError(f"{where}: kind {kind!r} is not known; use one of {known}")
    record: Record = validated(_FORMS[kind], content, where).made()
    return record


def event_from_content(content: Any, *, where: str) -> BathEvent:
    """Return the ledger line that JSON content describes; errors as in `from_content`."""
    event: BathEvent = validated(_Event, content, where).made()
    return event


def validated(form: Any, content: Any, where: str) -> Any:
    """Return what a form makes of the content; every field that is wrong is named."""
    try:
        return form.model_validate(content)
    except ValidationError as error:
        faults = [f"{where}: {_field(e['loc'])}{_sentence(e)}" for e in error.errors()]
        raise BookError("\n".join(dict.fromkeys(faults))) from None


def _field(loc: tuple[int | str, ...]) -> str:
    words = [str(part) for part in loc if not str(part).startswith(("function", "tuple"))]
    return f"{'.'.join(words)}: " if words else ""


def _sentence(error: Any) -> str:
    kind = error["type"]
    if kind == "missing":
        return "is missing"
    if kind == "extra_forbidden":
        return "is not a key that a shop book knows"
    message = str(error["msg"]).removeprefix("Value error, ")
    return message[:1].lower() + message[1:]


def read_json(text: str, *, where: str) -> dict[str, Any]:
    """Return the object that a JSON text holds, or refuse it in one sentence."""
    try:
        data = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise BookError(f"{where} is not JSON that can be read: {error}") from None
    if not isinstance(data, dict):
        raise BookError(f"{where}: a JSON object is due, with its format named first")
    return data


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")
