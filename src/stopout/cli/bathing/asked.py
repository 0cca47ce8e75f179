"""What `stopout bath` was asked, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stopout.etching import EtchPlan, Pair, Remaining
    from stopout.values import Finding

__all__ = ["Answer", "Asked", "Opening"]


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
class Opening:
    """What is open to the bath on one piece."""

    area_mm2: float
    edge_mm: float
    parts: int
    islands: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What is to be printed; without `pair` and `plan` the bath is refused before it is planned.

    `findings` begin with the stops. `lost_mm` is the mean depth of the loss `loss_g`.
    """

    asked: Asked
    findings: tuple[Finding, ...]
    opening: Opening
    pair: Pair | None = None
    plan: EtchPlan | None = None
    left: Remaining | None = None
    loss_g: float | None = None
    lost_mm: float | None = None

    @property
    def is_stopped(self) -> bool:
        """Tell whether anything says stop."""
        return any(finding.level == "stop" for finding in self.findings)
