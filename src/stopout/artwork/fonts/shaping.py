"""Text into glyphs: shaping by the font's own tables, and the glyphs' outlines as path data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from stopout.artwork.fonts.book import Face
from stopout.artwork.regions.curves import Affine, RunPen, Subpath


@dataclass(frozen=True, slots=True, kw_only=True)
class Glyph:
    """One glyph, lengths in em: `cluster` is the place of its first character in the run."""

    number: int
    cluster: int
    advance: float
    x_offset: float
    y_offset: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Metrics:
    """Heights of a face in em, y up; `line_gap` is what its maker wants between lines besides."""

    ascent: float
    descent: float
    x_height: float
    line_gap: float


@lru_cache(maxsize=32)
def _font(face: Face, weight: float) -> Any:
    import uharfbuzz as hb

    font = hb.Font(hb.Face(hb.Blob(face.path.read_bytes()), face.index))
    if face.weight[0] < face.weight[1]:
        font.set_variations({"wght": min(max(weight, face.weight[0]), face.weight[1])})
    return font


def shape(
    text: str,
    face: Face,
    weight: float,
    *,
    with_ligatures: bool,
    features: Sequence[tuple[str, int]] = (),
) -> list[Glyph]:
    """Shape one run; glyphs come in visual order. Glyph 0 stands for a missing character.

    `features` are OpenType features by their tag, with the value that each is set to.
    """
    import uharfbuzz as hb

    font = _font(face, weight)
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    asked: dict[str, Any] = {} if with_ligatures else {"liga": False, "clig": False}
    hb.shape(font, buffer, {**asked, **dict(features)})
    upem = font.face.upem
    pairs = zip(buffer.glyph_infos, buffer.glyph_positions or (), strict=True)
    return [
        Glyph(
            number=info.codepoint,
            cluster=info.cluster,
            advance=place.x_advance / upem,
            x_offset=place.x_offset / upem,
            y_offset=place.y_offset / upem,
        )
        for info, place in pairs
    ]


def has_letter(face: Face, sign: str) -> bool:
    """Whether a face has a shape for a character."""
    return bool(_font(face, 400.0).get_nominal_glyph(ord(sign)))


def metrics(face: Face, weight: float) -> Metrics:
    """Read the heights that lettering is aligned and underlined by."""
    import uharfbuzz as hb

    font = _font(face, weight)
    upem = font.face.upem
    extents = font.get_font_extents("ltr")

    return Metrics(
        ascent=extents.ascender / upem,
        descent=extents.descender / upem,
        line_gap=extents.line_gap / upem,
        x_height=font.get_metric_position_with_fallback(hb.OTMetricsTag.X_HEIGHT) / upem,
    )


def cap_height(face: Face, weight: float) -> float:
    """Height of a face's capitals in em: of its H as drawn, else what its tables say."""
    import uharfbuzz as hb

    font = _font(face, weight)
    number = font.get_nominal_glyph(ord("H"))
    extents = font.get_glyph_extents(number) if number else None
    if extents is not None and extents.y_bearing > 0:
        return float(extents.y_bearing / font.face.upem)
    tag = hb.OTMetricsTag.CAP_HEIGHT
    return float(font.get_metric_position_with_fallback(tag) / font.face.upem)


def subpaths(face: Face, weight: float, number: int) -> tuple[Subpath, ...]:
    """Return a glyph's outline as closed runs of lines and cubics, in em, y up."""
    font = _font(face, weight)
    pen = _RunPen()
    font.draw_glyph_with_pen(number, pen)
    return tuple(
        run.through(Affine(a=1 / font.face.upem, d=1 / font.face.upem)) for run in pen.runs
    )


def outline(face: Face, weight: float, number: int, place: Affine) -> str:
    """Return a glyph's outline as path data, its em units mapped by `place`."""
    font = _font(face, weight)
    pen = _Pen(place=place, upem=font.face.upem)
    font.draw_glyph_with_pen(number, pen)
    return "".join(pen.parts)


@dataclass(slots=True)
class _Pen:
    """Collects path data; method names are those that the shaping library calls."""

    place: Affine
    upem: float
    parts: list[str] = field(default_factory=list)

    def _put(self, command: str, *points: tuple[float, float]) -> None:
        a, up = self.place, self.upem
        numbers = []
        for x, y in points:
            u, v = x / up, y / up
            numbers.append(f"{a.a * u + a.c * v + a.e!r} {a.b * u + a.d * v + a.f!r}")
        self.parts.append(command + " ".join(numbers))

    def moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self._put("M", point)

    def lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self._put("L", point)

    def curveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        self._put("C", *points)

    def qCurveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        self._put("Q", *points)

    def closePath(self) -> None:  # noqa: N802
        self.parts.append("Z")


class _RunPen(RunPen):
    """Collects runs; method names are those that the shaping library calls."""

    def moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self.move(complex(*point))

    def lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self.line(complex(*point))

    def curveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        first, second, end = (complex(*point) for point in points)
        self.curve(first, second, end)

    def qCurveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        bend, end = (complex(*point) for point in points)
        self.quad(bend, end)

    def closePath(self) -> None:  # noqa: N802
        if self.handles:
            self._keep(is_closed=True)
