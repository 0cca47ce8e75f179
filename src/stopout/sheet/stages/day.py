"""The steps of a plate that depend on the shop's bath: used, diluted, in batches, by a current."""

from __future__ import annotations

from stopout.etching import EtchPlan, Pair
from stopout.sheet.model import Block, Step, Table
from stopout.sheet.steps import note, step
from stopout.sheet.words import duration, grams, litres, significant
from stopout.units import format_least

# Of very many batches the first and the last say enough.
_MOST_ROWS = 12
# Batches whose times differ by less need no times of their own.
_SAME = 1.03


def used_bath_steps(etch: EtchPlan, pair: Pair) -> list[Block]:
    """Make a used bath ready: how much there must be, and what is in it."""
    pour = etch.pour
    named = f"bath {etch.use.ident}" if etch.use.ident else "used bath"
    return [
        step(
            f"Measure out the {named}.",
            f"It holds {significant(pour.start_g_per_l)}\u00a0g/L of {pair.material.name} already, "
            f"ends at {significant(pour.end_g_per_l)}\u00a0g/L and is finished at "
            f"{significant(pour.limit_g_per_l)}\u00a0g/L. What is missing is topped up with fresh "
            f"bath of {etch.strength.g_per_l:.0f}\u00a0g/L.",
            sets=(("bath", litres(etch.bath_fill_l)),),
            measured=(("bath", "L"),),
        ),
        step(
            "Skim and filter what floats or lies in it.", "Paint flakes and sludge hinder the etch."
        ),
    ]


def diluted_steps(etch: EtchPlan, pair: Pair) -> list[Block]:
    """Dilute a stock solution: water first, the stock into it."""
    mixing, stock = etch.mixing, etch.use.stock
    assert mixing.stock_l is not None
    assert mixing.stock_water_l is not None
    assert stock is not None
    return [
        water_step(mixing.stock_water_l),
        step(
            f"Stir the stock of {pair.etchant.name} INTO the cold water.",
            f"Slowly, never water onto it. The stock is {stock.deg_baume:.1f}\u00a0°Bé or "
            f"{stock.g_per_l:.0f}\u00a0g/L; the bath holds {grams(etch.reagent_fill_g)} of "
            f"{pair.etchant.name}. It warms: wait whenever it gets hot to the hand outside.",
            sets=(("stock", litres(mixing.stock_l)),),
            measured=(("stock", "L"),),
        ),
        density_step(etch),
    ]


def water_step(water_l: float) -> Step:
    """The water that whatever makes the bath goes into."""
    return step(
        "Measure cold water into the mixing vessel.",
        "The water comes first, all of it.",
        sets=(("water", litres(water_l)),),
        measured=(("water", "L"),),
    )


def density_step(etch: EtchPlan) -> Step:
    """What shows the strength of a bath that was bought or diluted."""
    return step(
        "Measure the density with a hydrometer.",
        "At about 20\u00a0°C; only a fresh bath shows its strength this way.",
        sets=(("density", f"{etch.strength.density_g_per_ml:.3f}\u00a0g/mL"),),
        measured=(("density", "g/mL"),),
    )


def hang_steps(etch: EtchPlan) -> list[Block]:
    """Hang the cathode, with everything off; nothing where no current etches."""
    if etch.electro is None:
        return []
    return [
        step(
            "Hang the cathode 60\u00a0mm from where the etched face will be, and facing it.",
            "As large as the piece or larger, upright and parallel to it: no metal dissolves "
            "evenly on a face that looks away. The supply is off and unplugged.",
        )
    ]


def coupon_current(etch: EtchPlan) -> list[Block]:
    """The coupon's own current; nothing where no current etches."""
    electro = etch.electro
    if electro is None:
        return []
    density = f"{significant(electro.density_a_per_cm2)}\u00a0A/cm²"
    return [
        step(
            "Set the supply to the coupon's current.",
            f"{density} x the coupon's open area in cm². Plus lead to the coupon, dry hands, "
            "switch off before lifting it.",
            sets=(
                ("density", density),
                ("voltage, below", f"{significant(electro.voltage_high_v)}\u00a0V"),
            ),
            measured=(("current", "A"),),
        )
    ]


def cell_steps(etch: EtchPlan) -> list[Block]:
    """Lead and supply for the pieces, still off; nothing where no current etches."""
    electro = etch.electro
    if electro is None:
        return []
    together = "the piece" if etch.pour.at_once == 1 else f"{etch.pour.at_once} pieces together"
    return [
        step(
            "Fix an insulated wire to bare metal on the back of the piece.",
            "Seal the joint and every other bare spot: back, edges, hole walls. The piece hangs by "
            "it wholly under the bath, its etched face to the cathode. Clamp the plus lead to the "
            "wire above the bath, the minus lead to the cathode: no clamp touches the bath.",
        ),
        step(
            "Set the supply to constant current, still off.",
            f"For {together}: {significant(electro.density_a_per_cm2)}\u00a0A/cm² on the open "
            f"metal. Stay below {significant(electro.voltage_high_v)}\u00a0V, from which on paint "
            "lifts; the less the better.",
            sets=(
                ("current", f"{significant(electro.current_a)}\u00a0A"),
                ("voltage, below", f"{significant(electro.voltage_high_v)}\u00a0V"),
                ("supply, at least", f"{format_least(electro.supply_a)}\u00a0A"),
            ),
        ),
    ]


def current_on(etch: EtchPlan) -> list[Block]:
    """Switch on, and what to watch."""
    electro = etch.electro
    if electro is None:
        return []
    return [
        step(
            "Switch the current on.",
            "Dry hands. Read the voltage: if it climbs past the limit, or bubbles stand on the "
            "piece, turn the current down. Switch off before every lift.",
            sets=(("charge in all", f"{significant(electro.charge_ah)}\u00a0Ah"),),
            measured=(("current", "A"), ("voltage", "V")),
        )
    ]


def batch_table(etch: EtchPlan) -> list[Block]:
    """Batches and their times, where there is more than one and the bath ages between them."""
    if len(etch.batches) < 2:
        return []
    spare = f", {etch.use.spares} of them spare," if etch.use.spares else ""
    how = f"in {len(etch.batches)} batches of up to {etch.pour.at_once}"
    if etch.pour.at_once == 1:
        how = "one after another"
    line = f"{etch.pour.pieces} pieces{spare} {how}; let the bath come back to its temperature "
    line += "between them."
    times = [batch.time_s for batch in etch.batches]
    first, last = times[0], times[-1]
    if first is not None and last is not None and last < _SAME * first:
        return [note(line)]
    line += " The bath ages: each has its own time, the long end."
    return [note(line), _batch_times(etch)]


def _batch_times(etch: EtchPlan) -> Table:
    """Each batch and its time, in two columns: the second goes on where the first ends."""
    shown = etch.batches
    if len(shown) > _MOST_ROWS:
        shown = (*shown[: _MOST_ROWS - 1], shown[-1])
    singly = etch.pour.at_once == 1
    cells = [
        (
            f"{batch.number}" if singly else f"{batch.number}: {batch.pieces} pieces",
            "bath used up" if batch.time_s is None else duration(batch.time_s),
        )
        for batch in shown
    ]
    half = -(-len(cells) // 2)
    cells += [("", "")] * (2 * half - len(cells))
    rows = tuple((*cells[k], *cells[half + k]) for k in range(half))
    name = "Piece" if singly else "Batch"
    return Table(columns=(name, "Time", name, "Time"), shares=(0.7, 1.3, 0.7, 1.3), rows=rows)
