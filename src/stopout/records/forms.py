"""Records to JSON and back: the one place where what comes from outside is validated."""

from __future__ import annotations

import datetime
import json
from dataclasses import asdict, fields
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from stopout.errors import BookError
from stopout.job.shop_numbers import (
    Bath,
    BathEvent,
    ClearingCalibration,
    EtchCalibration,
    JobRecord,
    MachineIdentity,
    RunTime,
    Timing,
)
from stopout.values import Measured

__all__ = [
    "RECORD_FORMAT",
    "Record",
    "event_from_content",
    "from_content",
    "job_record_of",
    "kind_of",
    "read_json",
    "to_content",
]

RECORD_FORMAT = "stopout-record-1"

Record = ClearingCalibration | EtchCalibration | JobRecord | Bath | Timing | RunTime
_AGITATION = Literal["tray", "rocked", "bubbled", "spray"]
_FINISH = Literal["bare", "anodised", "lacquered", "filmed"]


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
_Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
_NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
_Measured = Annotated[tuple[_Number, _Number], BeforeValidator(_pair), AfterValidator(_measured)]
_Text = Annotated[str, Field(max_length=2000)]
_Word = Annotated[str, Field(min_length=1, max_length=200)]
_Day = Annotated[str, AfterValidator(_day)]
_Moment = Annotated[str, AfterValidator(_date)]
_Degrees = Annotated[float, Field(gt=0, lt=100, allow_inf_nan=False)]


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)

    def plain(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in type(self).model_fields}


class _Machine(_Form):
    spot_mm: Annotated[tuple[_Positive, _Positive], Field(strict=False)]
    wavelength_nm: _Positive
    power_w: _Positive


_Axes = Annotated[tuple[_Measured, _Measured], Field(strict=False)]


class _Clearing(_Form):
    date: _Day
    machine: _Machine
    material: _Word
    substrate: Literal["metal", "plastic"]
    paint: _Word
    colour: _Word
    thickness_um: _Positive
    spot_mm: _Axes
    threshold_j_per_mm: _Axes
    correlation: Annotated[
        tuple[Annotated[float, Field(ge=-1, le=1)], Annotated[float, Field(ge=-1, le=1)]],
        Field(strict=False),
    ] = (0.0, 0.0)
    speed_mm_s: _Positive | None = None
    conduction_w: _Measured | None = None
    incubation: _Measured | None = None
    passes_tested: Annotated[int, Field(ge=1)] = 1
    line_dose_range_j_per_mm: Annotated[tuple[_Positive, _Positive], Field(strict=False)] | None = (
        None
    )
    finish: _FINISH = "bare"
    scan_sha256: _Text = ""
    coupon_sha256: _Text = ""
    note: _Text = ""

    def made(self) -> ClearingCalibration:
        return ClearingCalibration(
            **{**self.plain(), "machine": MachineIdentity(**self.machine.plain())}
        )


class _Etch(_Form):
    date: _Day
    material: _Word
    etchant: _Word
    strength_g_per_l: _Positive
    temperature_degc: _Degrees
    agitation: _AGITATION
    depth_mm: _Measured
    undercut_mm: _Measured
    etch_factor: _Measured
    rate_um_per_min: _Measured | None = None
    finish: _FINISH = "bare"
    scan_sha256: _Text = ""
    coupon_sha256: _Text = ""
    note: _Text = ""

    def made(self) -> EtchCalibration:
        return EtchCalibration(**self.plain())


class _Job(_Form):
    date: _Day
    name: _Word
    material: _Word
    etchant: _Word
    strength_g_per_l: _Positive
    temperature_degc: _Degrees
    agitation: _AGITATION
    depth_mm: _Measured
    time_s: _Positive
    undercut_mm: _Measured | None = None
    finish: _FINISH = "bare"
    revision: _Text = ""
    job_sha256: _Text = ""
    pieces: Annotated[int, Field(ge=1)] = 1
    bath: _Text = ""
    metal_removed_g: _NotNegative | None = None
    note: _Text = ""

    def made(self) -> JobRecord:
        return JobRecord(**self.plain())


_FromZero = Annotated[tuple[_Number, _Number], BeforeValidator(_pair), AfterValidator(_from_zero)]
_AxesFromZero = Annotated[tuple[_FromZero, _FromZero], Field(strict=False)]


class _Timing(_Form):
    date: _Day
    machine: _Machine
    delay_ms: _AxesFromZero
    play_mm: _AxesFromZero
    scan_sha256: _Text = ""
    coupon_sha256: _Text = ""
    note: _Text = ""

    def made(self) -> Timing:
        return Timing(**{**self.plain(), "machine": MachineIdentity(**self.machine.plain())})


class _Run(_Form):
    date: _Day
    machine: _Machine
    name: _Word
    acceleration_mm_s2: _Positive
    cornering_mm: _Positive
    planned_s: _Positive
    took_s: _Positive
    scale: _Positive
    program_sha256: _Text = ""
    note: _Text = ""

    def made(self) -> RunTime:
        return RunTime(**{**self.plain(), "machine": MachineIdentity(**self.machine.plain())})


class _Bath(_Form):
    date: _Day
    name: _Word
    etchant: _Word
    note: _Text = ""

    def made(self) -> Bath:
        return Bath(**self.plain())


class _Event(_Form):
    kind: Literal["mixed", "etched", "topped-up", "discarded"]
    at: _Moment
    litres: _NotNegative = 0.0
    metal_g: _NotNegative = 0.0
    reagent_g: _NotNegative = 0.0
    note: _Text = ""
    record: _Text = ""

    def made(self) -> BathEvent:
        return BathEvent(**self.plain())


_FORMS: dict[str, type[_Clearing | _Etch | _Job | _Bath | _Timing | _Run]] = {
    "clearing": _Clearing,
    "etch": _Etch,
    "job": _Job,
    "bath": _Bath,
    "timing": _Timing,
    "run": _Run,
}
_KINDS: dict[type[Any], str] = {
    ClearingCalibration: "clearing",
    EtchCalibration: "etch",
    JobRecord: "job",
    Bath: "bath",
    Timing: "timing",
    RunTime: "run",
}


def kind_of(record: Record) -> str:
    """Return the kind that a record is filed under, such as clearing or bath."""
    return _KINDS[type(record)]


def to_content(record: Record | BathEvent) -> dict[str, Any]:
    """Return a record as JSON takes it, without its number; measured values are [value, sd]."""
    content = {f.name: _plain(getattr(record, f.name)) for f in fields(record)}
    del content["ident"]
    return content


def _plain(value: Any) -> Any:
    if isinstance(value, Measured):
        return [value.value, value.sd]
    if isinstance(value, MachineIdentity):
        return {name: _plain(part) for name, part in asdict(value).items()}
    if isinstance(value, tuple):
        return [_plain(part) for part in value]
    return value


def from_content(kind: str, content: Any, *, where: str) -> Record:
    """Return the record that a kind and its JSON content describe.

    Parameters
    ----------
    kind : str
        clearing, etch, job, bath, timing or run.
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
    record: Record = _validated(_FORMS[kind], content, where).made()
    return record


def event_from_content(content: Any, *, where: str) -> BathEvent:
    """Return the ledger line that JSON content describes; errors as in `from_content`."""
    event: BathEvent = _validated(_Event, content, where).made()
    return event


def _validated(form: Any, content: Any, where: str) -> Any:
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


def job_record_of(text: str, *, where: str) -> JobRecord:
    """Return the job record that a `stopout-record-1` file holds.

    Parameters
    ----------
    text : str
        The file's text.
    where : str
        Its name, for errors.

    Raises
    ------
    BookError
        If it is not JSON, of another format, or a field is wrong.
    """
    data = read_json(text, where=where)
    found = data.get("format")
    if found != RECORD_FORMAT:
        raise BookError(f'{where}: "format" is {found!r}; a record says "{RECORD_FORMAT}"')
    content = {key: value for key, value in data.items() if key != "format"}
    record = from_content("job", content, where=where)
    assert isinstance(record, JobRecord)
    return record


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
