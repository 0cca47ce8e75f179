"""What goes into a bath, how much of it is poured, mixed and used up, batch after batch."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.etching.bath import amounts
from stopout.etching.bath.ageing import Batch, ageing_factor, batches
from stopout.etching.bath.strength import BathStrength, water_density_g_per_ml
from stopout.etching.bath.use import BathUse, TrayFit
from stopout.etching.records import Pair
from stopout.etching.result import Mixing, Pour

# Dry reagent is added in portions of which none warms the bath by more. Our own rule.
_PORTION_K = 10.0
_COLD_WATER_DEGC = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Metal, heat and gas of one piece and of all that goes into the bath."""

    piece_g: float
    pieces: int
    quantity: int
    coupon_g: float
    piece_mm2: float

    @property
    def ordered_g(self) -> float:
        return self.piece_g * self.quantity

    @property
    def all_g(self) -> float:
        return self.piece_g * self.pieces + self.coupon_g


def load_of(
    pair: Pair, volume_mm3: float, opening_area_mm2: float, *, quantity: int, use: BathUse
) -> Load:
    """What one piece, all pieces and the coupon lose; the coupon's walls in the pieces' share.

    Parameters
    ----------
    pair : Pair
        The metal.
    volume_mm3, opening_area_mm2 : float, float
        Metal removed from one piece, and its open area.
    quantity : int
        Pieces ordered.
    use : BathUse
        Spares and coupon.
    """
    piece_g = volume_mm3 * 1e-3 * pair.material.density_g_per_cm3.value
    return Load(
        piece_g=piece_g,
        pieces=quantity + use.spares,
        quantity=quantity,
        coupon_g=piece_g * use.coupon_area_mm2 / opening_area_mm2 if use.coupon_area_mm2 else 0.0,
        piece_mm2=opening_area_mm2,
    )


def pour_for(
    pair: Pair,
    strength: BathStrength,
    load: Load,
    fit: TrayFit,
    use: BathUse,
    rise_k: float,
    heat_kj_per_g: float,
) -> tuple[Pour, float]:
    """The bath to pour for everything that goes into it [L], and what asks for how much.

    Parameters
    ----------
    pair, strength : Pair, BathStrength
        The metal in its bath.
    load : Load
        What goes into it.
    fit : TrayFit
        How the pieces lie in the tray.
    use : BathUse
        What there is already.
    rise_k, heat_kj_per_g : float, float
        How much it may warm, and the heat of a gram of metal.
    """
    per_k = pair.heat_capacity_kj_per_l_k.value
    heat_l = load.all_g * heat_kj_per_g / (per_k * rise_k)
    usual = amounts.capacity_g_per_l(pair, strength.g_per_l)
    limit = amounts.capacity_end_g_per_l(pair, strength.g_per_l)
    # Past the usual capacity there may still be room to where the bath is finished.
    rooms = [end - use.dissolved_g_per_l for end in (usual, limit)]
    room = next((room for room in rooms if room > 1e-9), None)
    capacity_l = 0.0 if room is None else load.all_g / room
    cover_l = amounts.tray_cover_l(fit.tray_mm, fit.cover_mm)
    asked = {"heat": heat_l, "capacity": capacity_l, "cover": cover_l}
    decided_by = max(asked, key=lambda name: asked[name])
    fill = asked[decided_by]
    if use.volume_l is not None:
        decided_by, fill = "volume", use.volume_l
    batch_g = load.piece_g * fit.at_once
    pour = Pour(
        pieces=load.pieces,
        metal_g=load.all_g,
        heat_l=heat_l,
        capacity_l=capacity_l,
        cover_l=cover_l,
        decided_by=decided_by,
        start_g_per_l=use.dissolved_g_per_l,
        end_g_per_l=use.dissolved_g_per_l + load.all_g / fill,
        limit_g_per_l=limit,
        rise_k=batch_g * heat_kj_per_g / (per_k * fill),
        tray_mm=fit.tray_mm,
        at_once=fit.at_once,
        hangs=fit.hangs,
        is_proposed=fit.is_proposed,
        cover_mm=fit.cover_mm,
        bare_mm=fit.bare_mm,
    )
    return pour, fill


def water_l(strength: BathStrength, bath_l: float) -> float:
    """The water in a bath, measured out at 20 degC [L]."""
    return bath_l * strength.water_g_per_ml / water_density_g_per_ml(20.0)


def mixing_of(
    mixing_rise: float | None, strength: BathStrength, use: BathUse, fill: float
) -> Mixing:
    """How the bath is mixed: from stock, or of a dry reagent in portions.

    Parameters
    ----------
    mixing_rise : float or None
        How much the dissolving warms it [K].
    strength : BathStrength
        Of the bath.
    use : BathUse
        The stock, if any.
    fill : float
        Its volume [L].
    """
    stock = use.stock
    if stock is not None and stock.g_per_l >= strength.g_per_l * (1.0 - 1e-9):
        stock_l, water_l = amounts.stock_l(strength, stock, fill)
        return Mixing(stock_l=stock_l, stock_water_l=water_l)
    if mixing_rise is None or mixing_rise <= 0.0:
        return Mixing()
    return Mixing(
        portions=max(1, math.ceil(mixing_rise / _PORTION_K)),
        hottest_degc=_COLD_WATER_DEGC + mixing_rise,
    )


def time_ageing_s(pour: Pour, time_s: float, ceiling_g_per_l: float) -> float | None:
    """The time of all pieces together as the bath ages, the long end [s]; None past its end.

    Parameters
    ----------
    pour : Pour
        The bath.
    time_s : float
        The time in a fresh bath.
    ceiling_g_per_l : float
        The metal that its reagent could dissolve.
    """
    if math.isinf(ceiling_g_per_l):
        return time_s
    left = ceiling_g_per_l - pour.start_g_per_l
    if left <= 0.0:
        return None
    aged = time_s * ageing_factor((pour.end_g_per_l - pour.start_g_per_l) / left)
    return aged if math.isfinite(aged) else None


def batches_of(
    load: Load, fit: TrayFit, pour: Pour, fill: float, ceiling_g_per_l: float, time_s: float
) -> tuple[Batch, ...]:
    """The batches; the coupon is etched before the first.

    Parameters
    ----------
    load : Load
        What goes into the bath.
    fit : TrayFit
        How many lie in the tray together.
    pour, fill : Pour, float
        The bath, and its volume [L].
    ceiling_g_per_l : float
        The metal that its reagent could dissolve.
    time_s : float
        The time in the bath as it is at the start.
    """
    start = pour.start_g_per_l + load.coupon_g / fill
    first_s = time_s
    if math.isfinite(ceiling_g_per_l) and start < ceiling_g_per_l:
        first_s *= (ceiling_g_per_l - pour.start_g_per_l) / (ceiling_g_per_l - start)
    return batches(
        pieces=load.pieces,
        at_once=fit.at_once,
        metal_per_piece_g=load.piece_g,
        bath_l=fill,
        start_g_per_l=start,
        ceiling_g_per_l=ceiling_g_per_l,
        time_s=first_s,
    )
