"""What `stopout bath` was asked, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stopout.etching import Remaining
    from stopout.library.bath import BathAnswer

__all__ = ["Answer", "Asked"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The options as they were written, by their names."""

    material: str
    etchant: str
    depth: str
    strength: str | None
    temperature: str | None
    agitation: str
    rate: str | None
    etch_factor: float | None
    rise: str | None
    cooled: bool
    area: str
    edge: str | None
    parts: int
    islands: int
    quantity: int
    spares: int
    coupon_area: str | None
    size: str | None
    thickness: str | None
    filled: bool
    resist: str | None
    tray: str | None
    plates_at_once: int | None
    dissolved: str | None
    volume: str | None
    stock: str | None
    electrolyte: str | None
    current: str | None
    current_density: str | None
    voltage: str | None
    efficiency: float | None
    chromate_acknowledged: bool
    measured_depth: str | None
    after: str | None
    error: str | None
    loss: str | None
    explain: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What is to be printed. `lost_mm` is the mean depth of the loss `loss_g`."""

    asked: Asked
    answer: BathAnswer
    left: Remaining | None = None
    loss_g: float | None = None
    lost_mm: float | None = None
