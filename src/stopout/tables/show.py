"""The tables as rows for people: every value with its unit, kind, grade and source."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from stopout.errors import TableError
from stopout.etching.records import (
    Advice,
    Ceilings,
    Companion,
    Etchant,
    Finish,
    Material,
    Pair,
    RateReference,
    Refusal,
    Resist,
    Sourced,
    Species,
)
from stopout.etching.safety import ROUTES, Hazard, Statement
from stopout.tables import cells, load
from stopout.tables import hazards as hazard_table
from stopout.tables.beams import BEAM_FIGURES
from stopout.tables.ceilings import CEILING_ENTRIES, any_ceilings, bench_ceilings
from stopout.tables.find import entry
from stopout.tables.names import NAMED, canonical, listed
from stopout.tables.read import entries, raw_table
from stopout.values import Grade, Kind

_IN_TABLE = Advice(text="", kind="practice", source="what is refused for it is refused for this")

KINDS = (
    "materials",
    "etchants",
    "pairs",
    "electrolytes",
    "resists",
    "hazards",
    "statements",
    "refusals",
    "ceilings",
    "names",
    "finishes",
    "species",
    "beams",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownRow:
    """One line of a table: what it is, the value, its unit, and where it comes from."""

    name: str
    value: str
    unit: str
    kind: Kind
    grade: Grade | None
    source: str


def list_table(kind: str) -> tuple[tuple[str, str], ...]:
    """The ids of a table with their names in words.

    Parameters
    ----------
    kind : str
        One of `KINDS`. A pair's id is `metal/etchant`.

    Raises
    ------
    TableError
        If there is no such table.
    """
    _check_kind(kind)
    if kind == "pairs":
        pairs = [(m, e) for m, inner in raw_table("pairs").items() for e in inner]
        return tuple(
            (f"{m}/{e}", f"{_name('materials', m)} in {_name('etchants', e)}") for m, e in pairs
        )
    if kind == "statements":
        return tuple((s.code, s.text) for s in hazard_table.all_statements())
    if kind == "refusals":
        return tuple((rule.code, rule.message) for rule in load.load_refusals())
    if kind == "ceilings":
        return CEILING_ENTRIES
    if kind == "names":
        return tuple(
            (f"{table}/{answer}", ", ".join(name for name in names if name != answer) or "-")
            for table in NAMED
            for answer, (names, _) in listed(table).items()
        )
    if kind == "finishes":
        return tuple(
            (ident, load.load_finish_entry(ident).message) for ident in entries("finishes")
        )
    if kind == "species":
        return tuple((ident, str(data["formula"])) for ident, data in raw_table(kind).items())
    return tuple((ident, _name(kind, ident)) for ident in entries(kind))


def show_entry(kind: str, ident: str) -> tuple[ShownRow, ...]:
    """All of one entry, a row for each value or sentence.

    Raises
    ------
    TableError
        If the table or the entry is not there.
    """
    _check_kind(kind)
    ident = _by_name(kind, ident)
    shown: dict[str, Callable[[str], Iterable[ShownRow]]] = {
        "materials": lambda i: _material(load.load_material(i)),
        "etchants": lambda i: _etchant(load.load_etchant(i)),
        "pairs": _pair_entry,
        "electrolytes": _electrolyte,
        "resists": lambda i: _resist(load.load_resist(i)),
        "hazards": lambda i: _hazard(hazard_table.load_hazards((i,))[0]),
        "statements": lambda i: _statement(hazard_table.load_statements((i,))[0]),
        "refusals": lambda i: _refusal(load.load_refusal(i)),
        "ceilings": _ceiling_entry,
        "names": _names_entry,
        "finishes": lambda i: _finish(load.load_finish_entry(i)),
        "species": lambda i: _species(load.load_species(i)),
        "beams": _beam_entry,
    }
    return tuple(shown[kind](ident))


def _names_entry(ident: str) -> list[ShownRow]:
    table, _, answer = ident.partition("/")
    found = listed(table) if table in NAMED else {}
    if answer not in found:
        raise TableError(f"unknown name {ident!r}; write it as materials/aluminium")
    names, refused = found[answer]
    usage = Advice(text=", ".join(names), kind="practice", source="common usage, no source")
    rows = [_sentence("goes by" if refused is None else "refused", usage)]
    if refused is not None:
        why = Advice(text=refused.message, kind=refused.kind, source=refused.source)
        rows += [_sentence("why", why), _sentence("instead", replace(why, text=refused.remedy))]
    return rows


def _by_name(kind: str, ident: str) -> str:
    """The id that is meant; of a pair both halves."""
    if kind != "pairs":
        return canonical(kind, ident)
    material, slash, etchant = ident.partition("/")
    return f"{canonical('materials', material)}{slash}{canonical('etchants', etchant)}"


def _check_kind(kind: str) -> None:
    if kind not in KINDS:
        raise TableError(f"there is no table {kind!r}; the tables are {', '.join(KINDS)}")


def _name(kind: str, ident: str) -> str:
    return str(raw_table(kind)[ident]["name"])


def _material(m: Material) -> list[ShownRow]:
    alloy = [_sentence("alloy of", _IN_TABLE, m.base)] if m.base else []
    return [
        *alloy,
        *_values(
            ("density", m.density_g_per_cm3),
            ("molar mass", m.molar_mass_g_per_mol),
            *((f"share of {name}", share) for name, share in m.composition),
            ("refractive index", m.refractive_index),
            ("softens at", m.softening_degc),
        ),
        *_sentences("advice", m.advice),
        *_sentences("after the etch", m.after_etch),
        *_sentences("beam that passes", m.passes),
        *_sentences("beam that marks", m.marks),
        *_sentences("beam that frosts", m.frosts),
        *_sentences("beam never to use", m.harms),
    ]


def _etchant(e: Etchant) -> list[ShownRow]:
    capacities = zip(e.cp_at, e.cp_j_per_g_k, strict=True)
    rows = _values(
        ("molar mass", e.molar_mass_g_per_mol),
        ("strongest solution", e.max_fraction),
        ("share that the density correlation speaks of", e.anhydrous_fraction),
        ("heat of solution", e.solution_kj_per_g),
        ("decomposes above", e.decomposes_degc),
        *((f"heat capacity at {100.0 * at:g} % by weight", cp) for at, cp in capacities),
    )
    rows.append(_sentence("density correlation, c0 to c4", e.density_source, _listed(e.density_c)))
    for companion in e.companions:
        rows += _companion(companion)
    for n in e.neutralisers:
        name = f"neutralised by {n.name}"
        rows += _values(
            (f"{name}, to pH {n.end_ph}", n.g_per_g),
            (f"{name}, heat per mole of reagent", n.heat_kj_per_mol),
            (f"{name}, heat per mole of dissolved metal besides", n.metal_heat_kj_per_mol),
            (f"{name}, carbon dioxide", n.gas_mol_per_mol),
            (f"{name}, as sold", n.stock_fraction),
            (f"{name}, density as sold", n.stock_g_per_ml),
        )
        rows += _sentences(f"with {n.name}", n.advice)
    return [
        *rows,
        *_sentences("mixing", e.mixing),
        *_sentences("waste", e.waste),
        *_sentences("neutralising", e.neutralising),
        *_control(e),
    ]


def _companion(c: Companion) -> list[ShownRow]:
    name = f"with {c.name}"
    rows = _values(
        (f"{name}, per gram of reagent", c.g_per_g),
        (f"{name}, per litre of bath", c.g_per_l),
        (f"{name}, strength of what is bought", c.stock_fraction),
    )
    density = _sentence(f"{name}, density, c0 to c4", c.density_source, _listed(c.density_c))
    return [*rows, density]


def _control(e: Etchant) -> list[ShownRow]:
    if e.control is None:
        return []
    return [
        *_sentences("kept: test", e.control.test),
        *_sentences("kept: correct", e.control.correct),
        *_sentences("kept: regenerate", e.control.regenerate),
        *_sentences("kept: discard", e.control.discard),
    ]


def _pair_entry(ident: str) -> list[ShownRow]:
    material, slash, etchant = ident.partition("/")
    if not slash:
        found = [f"{material}/{e}" for e in raw_table("pairs").get(material, {})]
        known = found or [pair for pair, _ in list_table("pairs")]
        raise TableError(f"{ident!r} is no pair of a material and an etchant; {', '.join(known)}")
    return _pair(load.load_pair(material, etchant))


def _pair(p: Pair) -> list[ShownRow]:
    rows = [_sourced_text("reaction", p.reaction, p.reagent_mol_per_mol)]
    for rate in p.rates:
        rows += _rate(rate)
    return [
        *rows,
        *_values(
            ("etch factor (depth / undercut per edge)", p.etch_factor),
            ("reagent per mole of metal", p.reagent_mol_per_mol),
            ("gas per mole of metal, at most", p.gas_mol_per_mol),
            ("heat per mole of metal", p.heat_kj_per_mol),
            ("heat capacity of the bath", p.heat_capacity_kj_per_l_k),
            ("dissolved metal to plan with", p.capacity_g_per_l),
            ("share of the reagent that may be used up", p.capacity_share),
            ("dissolved metal at the bath's end", p.capacity_end_g_per_l),
            ("warmest usual under paint", p.hot_paint_degc),
            ("deepest usual under paint", p.paint_depth_mm),
            (f"lower flammable limit of {p.gas}", p.gas_lower_flammable_fraction),
        ),
        *_ceilings(p.ceilings),
        *_sentences("advice", p.advice),
        *_sentences("waste", p.waste),
    ]


def _ceilings(c: Ceilings) -> list[ShownRow]:
    return _values(
        ("ceiling of the strength", c.strength_g_per_l),
        ("ceiling of the temperature", c.temperature_degc),
        ("ceiling of the warmed bath", c.warmest_degc),
        ("ceiling of the rise without cooling", c.rise_k),
    )


def _ceiling_entry(ident: str) -> list[ShownRow]:
    if ident == "any":
        return _ceilings(any_ceilings())
    if ident != "bench":
        raise TableError(f"unknown ceiling {ident!r}; the table has bench, any")
    bench = bench_ceilings()
    return _values(
        ("bath at most", bench.volume_l),
        ("flammable gas at its peak, at most", bench.flammable_gas_l_per_min),
        ("heat at its peak, at most", bench.heat_kj_per_min),
        ("current at most", bench.current_a),
        ("kept below boiling by", bench.boiling_room_k),
    )


def _electrolyte(ident: str) -> list[ShownRow]:
    rows = _etchant(cells.load_electrolyte(ident))
    for number, metal in enumerate(cells.metals_of(ident)):
        pair, cell = cells.load_cell(metal, ident)
        if number == 0:
            rows += _values(
                ("efficiency", cell.efficiency),
                ("current density", cell.density_a_per_cm2),
                ("voltage", cell.voltage_v),
                ("paint lifts from", cell.lift_v),
                ("share of the current taken to make chlorine", cell.chlorine_share),
                ("etch factor (depth / undercut per edge)", pair.etch_factor),
                ("dissolved metal to plan with", pair.capacity_g_per_l),
                ("dissolved metal at the bath's end", pair.capacity_end_g_per_l),
                ("heat capacity of the bath", pair.heat_capacity_kj_per_l_k),
                ("warmest usual under paint", pair.hot_paint_degc),
                ("deepest usual under paint", pair.paint_depth_mm),
            )
            rows += _ceilings(pair.ceilings)
            rows += _sentences("advice", pair.advice)
        rows.append(_sourced_text(f"{pair.material.name}, reaction", pair.reaction, cell.valence))
        rows += _values((f"{pair.material.name}, electrons per atom", cell.valence))
    return rows


def _rate(rate: RateReference) -> list[ShownRow]:
    name = f"rate, {' or '.join(rate.agitation)}"
    at = f"at {rate.temperature_degc:g} degC and {rate.strength_g_per_l:g} g/L"
    (t0, t1), (c0, c1) = rate.temperature_range_degc, rate.strength_range_g_per_l
    holds = f"{t0:g} to {t1:g} degC, {c0:g} to {c1:g} g/L"
    points = [
        _sourced_text(f"{name}, at {t:g} degC", f"{value:g}", rate.um_per_min, "um/min")
        for t, value in rate.points
    ]
    return [
        *_values((f"{name}, {at}", rate.um_per_min)),
        *points,
        *_values(
            (f"{name}, activation energy", rate.activation_kj_per_mol),
            (f"{name}, order in the strength", rate.strength_order),
        ),
        _sourced_text(f"{name}, used for", holds, rate.um_per_min),
    ]


def _resist(r: Resist) -> list[ShownRow]:
    rows = _values(
        ("dry thickness", r.thickness_um),
        ("cure", r.cure_h),
        ("dry for the beam", r.beam_h),
        ("solids by volume", r.solids),
        ("thin coats", r.thin_coats),
    )
    for limit in r.limits:
        place = f"in {limit.etchant} ({limit.verdict})"
        rows += _values(
            (f"{place}, warmest", limit.max_degc), (f"{place}, longest", limit.max_time_s)
        )
        if limit.basis is not None:
            rows.append(_sentence(place, limit.basis))
    return [*rows, *_sentences("advice", r.advice)]


def _hazard(h: Hazard) -> list[ShownRow]:
    shown = h.classification
    rows = [
        _sentence("classification", shown),
        _sentence("signal word", shown, h.signal or "none"),
        _sentence("pictograms", shown, ", ".join(h.pictograms) or "none"),
    ]
    for statement in hazard_table.load_statements((*h.statements, *h.precautions)):
        rows += _statement(statement)
    rows += _values(*((limit.name, limit.value) for limit in h.limits))
    rows += _sentences("caution", h.cautions)
    rows += _sentences("protection", tuple(item.advice for item in h.wear))
    rows += [_sentence(f"first aid, {route}", h.first_aid.by(route).advice) for route in ROUTES]
    for incident in h.incidents:
        rows += _sentences(incident.title.lower(), incident.steps)
    for name, sentences in (
        ("spill", h.spill),
        ("storage", h.storage),
        ("never mix with", h.never_mix),
    ):
        rows += _sentences(name, sentences)
    return rows


def _statement(s: Statement) -> list[ShownRow]:
    return [ShownRow(name=s.code, value=s.text, unit="", kind=s.kind, grade=None, source=s.source)]


def _refusal(r: Refusal) -> list[ShownRow]:
    any_strength = "at any strength"
    above = any_strength if r.above_g_per_l is None else f"above {r.above_g_per_l:g} g/L"
    texts = [("level", r.level.value)]
    lists = (("material", r.materials), ("etchant", r.etchants), ("resist", r.resists))
    texts += [(name, ", ".join(ids)) for name, ids in lists if ids]
    if r.etchants:
        texts.append(("used", above))
    texts += [("why", r.message), ("instead", r.remedy)]
    return [
        ShownRow(name=name, value=text, unit="", kind=r.kind, grade=None, source=r.source)
        for name, text in texts
    ]


def _finish(f: Finish) -> list[ShownRow]:
    first = f.steps[0]
    return [
        _sentence("level", first, f.level.value),
        _sentence("why", first, f.message),
        _sentence("instead", first, f.remedy),
        *_sentences("step", f.steps),
    ]


def _species(s: Species) -> list[ShownRow]:
    return _values(
        ("molar mass", s.molar_mass_g_per_mol),
        ("formation enthalpy at 298.15 K", s.formation_kj_per_mol),
    )


def _beam_entry(ident: str) -> list[ShownRow]:
    data = entry("beams", ident)
    return _values(*((name, data.maybe_sourced(name)) for name in (*BEAM_FIGURES, "threshold")))


def _values(*named: tuple[str, Sourced | None]) -> list[ShownRow]:
    rows = []
    for name, value in named:
        if value is None:
            continue
        text = f"{value.value:g}"
        if value.low is not None and value.high is not None:
            text += f" ({value.low:g} to {value.high:g})"
        rows.append(_sourced_text(name, text, value, value.unit))
    return rows


def _sourced_text(name: str, text: str, value: Sourced, unit: str = "") -> ShownRow:
    return ShownRow(
        name=name,
        value=text,
        unit=unit,
        kind=value.kind,
        grade=value.grade,
        source=value.source_and_note,
    )


def _sentences(name: str, sentences: tuple[Advice, ...]) -> list[ShownRow]:
    return [_sentence(name, sentence) for sentence in sentences]


def _sentence(name: str, advice: Advice, text: str | None = None) -> ShownRow:
    if advice.wavelength_nm is not None:
        low, high = advice.wavelength_nm
        name += f", laser of {low:g} to {high:g} nm"
    if advice.work:
        name += f", for a {advice.work}"
    return ShownRow(
        name=name,
        value=advice.text if text is None else text,
        unit="",
        kind=advice.kind,
        grade=None,
        source=advice.source,
    )


def _listed(numbers: tuple[Any, ...]) -> str:
    return ", ".join(f"{number:.6g}" for number in numbers)
