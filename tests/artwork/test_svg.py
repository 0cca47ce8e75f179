"""SVG is read as the recommendation says. Areas are closed forms; sections are those of SVG 2."""

from __future__ import annotations

from math import pi, sqrt, tan

import numpy as np
import pytest
import shapely
from fontTools.ttLib import TTFont
from scipy.integrate import quad
from shapely.geometry import Point, box

from stopout.artwork.regions.rings import noded
from stopout.errors import ArtworkError
from stopout.typefaces import lettering_files
from stopout.values import Level

# Of each family its plain face.
_SHIPPED = [p for p in lettering_files() if p.stem.endswith(("-Regular", "[wght]"))]
LINE = 'fill="none" stroke="#000"'


def same(region, wanted, tolerance_mm2=1e-3):
    return shapely.symmetric_difference(region, wanted).area < tolerance_mm2


def test_the_page_is_placed_with_y_up(read):
    # The rectangle hangs from the page's upper left corner.
    drawing = read('<rect width="20" height="10"/>')
    assert same(drawing.dark, box(0, 50, 20, 60))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((100.0, 60.0))
    assert drawing.area_mm2 == pytest.approx(200.0)


def test_nested_transforms_apply_from_the_inside_out(read):
    drawing = read(
        '<g transform="translate(50,30)"><g transform="rotate(90)">'
        '<rect transform="scale(2)" width="5" height="2"/></g></g>'
    )
    assert same(drawing.dark, box(46, 20, 50, 30))


def test_skewed_strokes_are_made_before_the_transform(read):
    # Section 13.5: a stroke is formed in user space. skewX(45) keeps areas (determinant 1).
    drawing = read(f'<g transform="skewX(45)"><path d="M0 10h20" {LINE} stroke-width="4"/></g>')
    assert drawing.area_mm2 == pytest.approx(80.0, abs=1e-3)


@pytest.mark.parametrize(("rule", "area"), [("nonzero", 400.0), ("evenodd", 300.0)])
def test_fill_rules_on_rings_that_turn_the_same_way(read, rule, area):
    drawing = read(f'<path fill-rule="{rule}" d="M10 10h20v20h-20z M15 15h10v10h-10z"/>')
    assert drawing.area_mm2 == pytest.approx(area)


def test_nonzero_leaves_a_hole_that_turns_the_other_way(read):
    assert read('<path d="M10 10h20v20h-20z M15 15v10h10v-10z"/>').area_mm2 == pytest.approx(300)


@pytest.mark.parametrize(("rule", "core"), [("nonzero", 1), ("evenodd", 0)])
def test_a_five_pointed_star_drawn_in_one_stroke(read, rule, core):
    # Pentagram of circumradius R: pentagon in the middle has circumradius R / phi^2.
    radius, phi = 20.0, (1 + sqrt(5)) / 2
    turn = np.exp(1j * (np.arange(5) * 4 * pi / 5))
    points = " ".join(f"{50 + radius * z.real},{30 + radius * z.imag}" for z in turn)
    pentagon = 2.5 * np.sin(2 * pi / 5) * (radius / phi**2) ** 2
    side = 2 * (radius / phi**2) * np.sin(pi / 5)
    tips = 5 * side**2 * tan(2 * pi / 5) / 4
    drawing = read(f'<polygon fill-rule="{rule}" points="{points}"/>')
    assert drawing.area_mm2 == pytest.approx(tips + core * pentagon, abs=1e-3)
    assert drawing.dark.is_valid


def test_white_over_dark_cuts_out_and_dark_over_white_fills_again(read):
    drawing = read(
        '<rect width="40" height="40"/><rect x="10" y="10" width="20" height="20" fill="white"/>'
        '<circle cx="20" cy="20" r="5"/>'
    )
    assert drawing.area_mm2 == pytest.approx(1600 - 400 + 25 * pi, abs=0.01)


def test_shapes_keep_fill_id_class_and_what_is_left_of_them(read):
    drawing = read(
        '<g id="lettering" class="gold">'
        '<path id="stem" class="thin" fill="#123" d="M0 0h10v10h-10z"/></g>'
        '<rect x="5" width="10" height="10" fill="IVORY"/>'
    )
    stem, cover = drawing.shapes
    assert (stem.fill, stem.ident, stem.region.area) == ("#112233", "stem", pytest.approx(50.0))
    assert {"gold", "thin", "#lettering", "#stem"} <= set(stem.classes)
    assert (cover.fill, cover.ident, cover.classes) == ("#fffff0", "", ())
    assert drawing.area_mm2 == pytest.approx(50.0)


def test_a_shape_without_an_id_answers_to_its_group(read):
    (shape,) = read('<g id="lettering"><circle cx="50" cy="30" r="5"/></g>').shapes
    assert shape.ident == "lettering"


def test_what_is_used_lends_its_id_and_class_to_its_uses(read):
    drawing = read(
        '<defs><rect id="tooth" class="gold" width="4" height="4"/></defs>'
        '<use id="first" href="#tooth"/><g class="rim"><use href="#tooth" x="9"/></g>'
    )
    first, second = drawing.shapes
    assert first.ident == "first"
    assert {"gold", "#tooth", "#first"} <= set(first.classes)
    assert {"gold", "#tooth", "rim"} <= set(second.classes)


def test_repeated_ids_keep_their_own_classes(read):
    drawing = read(
        '<rect id="a" class="one" width="5" height="5"/>'
        '<rect id="a" class="two" x="9" width="5" height="5"/>'
    )
    assert [shape.classes[0] for shape in drawing.shapes] == ["one", "two"]


@pytest.mark.parametrize(
    ("fill", "is_dark"),
    [("#808080", False), ("#7f7f7f", True), ("#00ff00", False), ("#ff0000", True), ("#00f", True)],
)
def test_darkness_is_rec_709_luma_below_one_half(read, fill, is_dark):
    # ITU-R BT.709-6: 0.2126 R + 0.7152 G + 0.0722 B; 0x80 / 255 = 0.502, 0x7f / 255 = 0.498.
    drawing = read(
        f'<rect width="1" height="1"/><rect x="9" width="10" height="10" fill="{fill}"/>'
    )
    assert drawing.area_mm2 == pytest.approx(101.0 if is_dark else 1.0)


@pytest.mark.parametrize(("threshold", "area"), [(0.3, 200.0), (0.5, 100.0)])
def test_the_threshold_decides_what_grey_is(read, threshold, area):
    # Luma of #999 is 0.6: dark when below 1 - 0.3.
    body = '<rect width="10" height="10"/><rect x="20" width="10" height="10" fill="#999"/>'
    assert read(body, threshold=threshold).area_mm2 == pytest.approx(area)


def test_see_through_paint_is_composed_over_what_is_below(read):
    # 40 % black on white: 0.6, light; twice: 0.36, dark.
    drawing = read(
        '<rect width="20" height="10" opacity=".4"/><rect x="10" width="20" height="10" '
        'fill-opacity="0.4"/>'
    )
    assert same(drawing.dark, box(10, 50, 20, 60))


def test_group_opacity_fades_the_group_as_one(read):
    # Section 3.4 of Compositing: the overlap inside the group is no darker than the rest.
    members = '<rect width="20" height="10"/><rect x="10" width="20" height="10"/>'
    body = f'<g opacity="0.4">{members}</g><rect y="20" width="3" height="1"/>'
    assert read(body).area_mm2 == pytest.approx(3.0)
    assert read(body, threshold=0.3).area_mm2 == pytest.approx(303.0)


@pytest.mark.parametrize(
    ("cap", "area"), [("butt", 80.0), ("square", 96.0), ("round", 80.0 + 4 * pi)]
)
def test_stroke_caps(read, cap, area):
    drawing = read(f'<path d="M20 30h20" {LINE} stroke-width="4" stroke-linecap="{cap}"/>')
    assert drawing.area_mm2 == pytest.approx(area, abs=4e-3)


@pytest.mark.parametrize(("join", "corner"), [("miter", 4.0), ("bevel", 2.0), ("round", pi)])
def test_stroke_joins_at_a_right_angle(read, join, corner):
    # Two arms 20 long and 4 wide overlap in a 2 x 2 square; the join fills the outer 2 x 2.
    drawing = read(f'<path d="M20 40v-20h20" {LINE} stroke-width="4" stroke-linejoin="{join}"/>')
    assert drawing.area_mm2 == pytest.approx(160.0 - 4.0 + corner, abs=4e-3)


@pytest.mark.parametrize(("limit", "is_mitred"), [(2.7, True), (2.5, False)])
def test_beyond_the_mitre_limit_a_join_is_bevelled(read, limit, is_mitred):
    # Section 13.5.5: mitre length / width = 1 / sin(theta / 2); 45 degrees: 2.613.
    drawing = read(
        f'<path d="M20 30h20l-{20 / sqrt(2)} -{20 / sqrt(2)}" {LINE} stroke-width="2" '
        f'stroke-miterlimit="{limit}"/>'
    )
    tip = drawing.dark.bounds[2] - 40.0
    assert tip == pytest.approx(1 / tan(pi / 8) if is_mitred else sqrt(0.5), abs=2e-3)


def test_dashes_of_odd_count_are_repeated_and_offset(read):
    # 1 2 3 becomes 1 2 3 1 2 3 (section 13.5.6); offset 0.5 starts half way through the first.
    drawing = read(
        f'<path d="M20 30h20" {LINE} stroke-width="2" stroke-dasharray="1 2 3" '
        'stroke-dashoffset="0.5"/>'
    )
    wanted = [(0, 0.5), (2.5, 5.5), (6.5, 8.5), (11.5, 12.5), (14.5, 17.5), (18.5, 20)]
    assert same(drawing.dark, shapely.union_all([box(20 + a, 29, 20 + b, 31) for a, b in wanted]))


def test_dashes_keep_their_lengths_round_elliptical_corners(read):
    # The left side is reached after three corners; their length by numerical integration of the
    # ellipse. From there dashes of 2 and 0.3 mm alternate with gaps of 0.8 mm.
    drawing = read(
        f'<rect {LINE} stroke-width=".4" stroke-dasharray="2 .8 .3 .8" x="4" y="4" width="92" '
        'height="52" rx="3" ry="2"/>'
    )
    corner = quad(lambda t: np.hypot(3 * np.sin(t), 2 * np.cos(t)), 0, pi / 2)[0]
    reached = 86 + 48 + 86 + 3 * corner
    starts = np.sort(np.r_[0:78, 0:78] * 3.9 + np.repeat([0, 2.8], 78))
    ends = starts + np.where(np.arange(156) % 2 == 0, 2.0, 0.3)
    wanted = [
        box(3.8, 6 + a - reached, 4.2, 6 + b - reached)
        for a, b in zip(starts, ends, strict=True)
        if a - reached > 1 and b - reached < 46
    ]
    side = drawing.dark.intersection(box(0, 6.9, 6, 51.9))
    found = [part for part in side.geoms if part.bounds[1] > 7 and part.bounds[3] < 51.8]
    assert len(found) > 20
    worst = [min(abs(a.bounds[1] - b.bounds[1]) for b in wanted) for a in found]
    assert max(worst) < 1e-3


def test_dashes_on_a_circle_start_at_its_right_and_run_clockwise(read):
    # Section 10.3: a circle's outline starts at three o'clock, going clockwise on the page.
    drawing = read(f'<circle cx="50" cy="30" r="10" {LINE} stroke-dasharray="{5 * pi} 1000"/>')
    centre = drawing.dark.centroid
    assert drawing.area_mm2 == pytest.approx(5 * pi, abs=2e-3)
    assert centre.x > 50
    assert centre.y < 30


def test_paint_order_can_put_the_stroke_below_the_fill(read):
    body = '<rect x="20" y="20" width="20" height="20" fill="{}" stroke="{}" stroke-width="4" {}/>'
    over = read(body.format("white", "black", ""))
    under = read(body.format("white", "black", 'paint-order="stroke"'))
    assert over.area_mm2 == pytest.approx(24**2 - 16**2)
    assert under.area_mm2 == pytest.approx(24**2 - 20**2)


@pytest.mark.parametrize(
    ("length", "mm"),
    [("25.4mm", 25.4), ("1in", 25.4), ("96", 25.4), ("96px", 25.4), ("2.54cm", 25.4),
     ("72pt", 25.4), ("6pc", 25.4), ("101.6Q", 25.4)],
)  # fmt: skip
def test_units_are_96_px_to_the_inch(read, length, mm):
    drawing = read(
        f'<rect width="{length}" height="{length}"/>', root='width="100mm" height="60mm"'
    )
    assert drawing.area_mm2 == pytest.approx(mm**2, rel=1e-6)


def test_percentages_refer_to_the_view_box(read):
    drawing = read('<rect x="10%" y="50%" width="20%" height="25%"/>')
    assert same(drawing.dark, box(10, 15, 30, 30))


@pytest.mark.parametrize(
    ("ratio", "wanted"),
    [
        ("xMidYMid meet", box(20, 0, 80, 60)),
        ("xMinYMid", box(0, 0, 60, 60)),
        ("xMaxYMin meet", box(40, 0, 100, 60)),
        ("none", box(0, 0, 100, 60)),
        ("xMidYMin slice", box(0, 0, 100, 60)),
    ],
)
def test_preserve_aspect_ratio(read, ratio, wanted):
    drawing = read(
        '<rect width="10" height="10"/>',
        root=f'width="100mm" height="60mm" viewBox="0 0 10 10" preserveAspectRatio="{ratio}"',
    )
    assert same(drawing.dark, wanted)


def test_a_view_box_may_start_anywhere(read):
    root = 'width="100mm" height="60mm" viewBox="-50 -30 100 60"'
    assert same(read('<rect width="10" height="10"/>', root=root).dark, box(50, 20, 60, 30))


@pytest.mark.parametrize(
    "styled",
    [
        '<style>.cut { fill: black }</style><rect class="cut" {} fill="white"/>',
        '<style>rect {{ fill: white }} #plate {{ fill: #000 }}</style><rect id="plate" {}/>',
        '<g fill="black"><rect {} fill="inherit"/></g>',
        '<g color="black"><rect {} fill="currentColor"/></g>',
        '<rect {} style="fill:#000;stroke:none" fill="white"/>',
        "<style><![CDATA[ g > .a {{ fill: black }} ]]></style>"
        '<g><rect class="a b" {} fill="#fff"/></g>',
    ],
)
def test_fills_come_from_style_sheets_inheritance_and_style_attributes(read, styled):
    body = styled.replace("{{", "{").replace("}}", "}")
    drawing = read(body.replace("{}", 'width="10" height="10"'))
    assert drawing.area_mm2 == pytest.approx(100.0)


def test_use_and_symbol(read):
    # Section 5.5: the symbol's viewBox 10 x 10 fits 20 x 10 centred, so its square is 10 x 10.
    drawing = read(
        '<defs><symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
        '<rect id="r" width="4" height="4"/></defs>'
        '<use href="#s" x="20" y="10" width="20" height="10"/>'
        '<use xlink:href="#r" transform="translate(60 0) scale(2)" x="1"/>'
    )
    assert same(drawing.dark, shapely.union(box(25, 40, 35, 50), box(62, 52, 70, 60)))


def test_clip_paths_cut_and_may_be_nested_or_relative(read):
    drawing = read(
        '<clipPath id="half" clipPathUnits="objectBoundingBox"><rect width=".5" height="1"/>'
        '</clipPath><clipPath id="low" clip-path="url(#half)"><path clip-rule="evenodd" '
        'd="M0 20h60v20h-60z m2 2 v16h4v-16z"/></clipPath>'
        '<clipPath id="disc"><circle cx="80" cy="30" r="5"/></clipPath>'
        '<g clip-path="url(#low)"><rect y="10" width="40" height="40" /></g>'
        '<rect x="70" width="30" height="60" clip-path="url(#disc)"/>'
    )
    wanted = box(0, 20, 20, 40).difference(box(2, 22, 6, 38)).union(Point(80, 30).buffer(5, 256))
    assert same(drawing.dark, wanted, 0.02)


@pytest.mark.parametrize(
    ("shapes", "area_mm2", "left_mm"),
    [
        ('<path transform="translate(-5)" d="M0 0h40v40h-40z"/>', 35 * 40, 0),
        ('<use href="#moved" x="2" transform="scale(.5)"/>', 25 * 20, 3),
        ('<rect width="9" height="9" transform="translate(1)"/><rect x="20" width="9" height="9"/>',
         162, 1),
        ('<path clip-rule="evenodd" transform="translate(2)" d="M0 0h20v20H0zM5 5h10v10H5z"/>',
         300, 2),
        ('<rect width="20" height="20" transform="translate(3)" clip-path="url(#in)"/>', 49, 5),
        ('<g transform="translate(3)"><rect width="9" height="9"/></g>', 0, None),
    ],
)  # fmt: skip
def test_shapes_moved_within_a_clip_path_cut_where_they_were_moved_to(
    read, shapes, area_mm2, left_mm
):
    # SVG 1.1, section 14.3.5: a clip path is the union of its children, each with its transform;
    # `use` may refer to a shape, a group is no child of a clip path.
    drawing = read(
        '<defs><rect id="moved" width="50" height="40" transform="translate(4)" fill="none"/>'
        '<clipPath id="in"><rect width="7" height="7" transform="translate(2 2)"/></clipPath>'
        f'<clipPath id="a">{shapes}</clipPath></defs><rect x="60" width="1" height="1"/>'
        '<g clip-path="url(#a)"><rect width="40" height="40"/></g>'
    )
    cut = drawing.dark.intersection(box(0, 0, 50, 60))
    assert cut.area == pytest.approx(area_mm2, abs=1e-6)
    assert left_mm is None or cut.bounds[0] == pytest.approx(left_mm, abs=1e-6)


def test_letters_cut_what_lies_below(read):
    letters = '<text x="3" y="30" font-family="Barlow" font-size="20" {}>NO</text>'
    plain, cut = (
        read(letters.format('transform="rotate(-5)"')),
        read(
            f'<clipPath id="t">{letters.format("")}</clipPath>'
            '<g transform="rotate(-5)"><rect y="-20" width="90" height="80" '
            'clip-path="url(#t)"/></g>'
        ),
    )
    assert same(plain.dark, cut.dark, 0.01)


def test_markers_are_drawn(read):
    drawing = read(
        '<marker id="m" markerWidth="4" markerHeight="4" markerUnits="userSpaceOnUse">'
        f'<rect width="4" height="4"/></marker><path d="M10 30h20" {LINE} marker-end="url(#m)"/>'
    )
    assert drawing.area_mm2 == pytest.approx(20.0 + 16.0 - 0.0, abs=1e-3)


def test_hidden_and_unpainted_shapes_leave_nothing(read):
    drawing = read(
        '<rect width="5" height="5"/><rect x="20" width="5" height="5" visibility="hidden"/>'
        '<rect x="30" width="5" height="5" display="none"/><rect x="40" width="5" height="5" '
        'fill="none"/><rect x="50" width="5" height="5" opacity="0"/>'
    )
    assert drawing.area_mm2 == pytest.approx(25.0)


def test_text_in_the_font_that_is_shipped_becomes_outlines(read):
    drawing = read('<text x="5" y="40" font-family="Barlow" font-size="20">Hub 8</text>')
    # H, u, b and two counters of the 8: five letters' outlines, three counters.
    assert len(drawing.dark.geoms) == 4
    assert sum(len(part.interiors) for part in drawing.dark.geoms) == 3
    # Cap height of this font is 0.7 em by its OS/2 table (read with a font tool).
    assert drawing.dark.bounds[3] == pytest.approx(20 + 14, abs=0.3)


@pytest.mark.parametrize("slope", ["normal", "italic"])
@pytest.mark.parametrize("weight", [400, 600, 900])
@pytest.mark.parametrize("file", _SHIPPED, ids=lambda path: path.stem)
def test_every_family_that_is_shipped_is_at_hand_for_artwork(read, file, weight, slope):
    """The second rendering knows them too; the height of H is read by a font tool of its own."""
    face = TTFont(file)
    family, em = face["name"].getDebugName(16) or face["name"].getDebugName(1), 40
    style = f"font: {slope} {weight} {em}px {family!r}"
    drawing = read(f'<text x="5" y="50" style="{style}">H</text>')
    _, y0, _, y1 = drawing.dark.bounds
    high = face["OS/2"].sCapHeight / face["head"].unitsPerEm
    assert y1 - y0 == pytest.approx(em * high, abs=0.02)
    assert drawing.dark.area > 50.0
    assert not [f for f in drawing.findings if f.code.startswith("artwork-")]


def test_a_small_text_keeps_its_true_outline(read):
    drawing = read('<text x="5" y="40" font-family="Barlow" font-size="20">I</text>')
    x0, y0, x1, y1 = drawing.dark.bounds
    assert y1 - y0 == pytest.approx(14.0, abs=1e-3)
    assert x1 - x0 < 3


def test_space_of_no_named_font_between_letters_that_are_placed_needs_none(read):
    span = '<tspan x="{}" y="40" style="font: 20px Barlow">I</tspan>'
    text = read(f"<text>\n{span.format(5)}\n{span.format(25)}\n</text>")
    assert not text.findings
    assert len(shapely.get_parts(text.dark)) == 2
    with pytest.raises(ArtworkError, match="names no font"):
        read(f'<text>{span.format(5)} <tspan y="40" style="font: 20px Barlow">I</tspan></text>')


def test_which_language_of_a_switch_is_read_is_told(read):
    square = '<rect width="10" height="10" systemLanguage="{}"/>'
    drawing = read(f"<switch>{square.format('de')}{square.format('en')}</switch>")
    assert "English" in drawing.findings[0].message


def test_artwork_beyond_the_page_is_cut_and_told(read):
    drawing = read('<rect x="-10" y="10" width="30" height="10"/>')
    assert same(drawing.dark, box(0, 40, 20, 50))
    (finding,) = drawing.findings
    assert (finding.code, finding.level) == ("artwork-beyond-page", Level.CAUTION)
    assert finding.at_mm == pytest.approx((-5, 45), abs=5)
    assert same(drawing.beyond_page, box(-10, 40, 0, 50))


def test_light_paint_beyond_the_page_hides_what_is_dark_there(read):
    white = '<rect x="-8" y="10" width="2" height="10" fill="#fff"/>'
    drawing = read(f'<rect x="-10" y="10" width="30" height="10"/>{white}')
    assert same(drawing.beyond_page, box(-10, 40, -8, 50).union(box(-6, 40, 0, 50)))


def test_position_and_boxes(read):
    body = '<rect x="10" y="5" width="20" height="10"/>'
    assert read(body, box="ink").dark.bounds == pytest.approx((40, 25, 60, 35))
    assert read(body, box="ink", position_mm=(3, 4)).dark.bounds == pytest.approx((3, 4, 23, 14))
    assert read(body, position_mm=(3, 4)).dark.bounds == pytest.approx((13, 49, 33, 59))
    wide = read(body, box="ink", width_mm=40, position_mm=(1, 1))
    assert wide.dark.bounds == pytest.approx((1, 1, 41, 21))
    assert (wide.width_mm, wide.height_mm) == pytest.approx((40, 20))
    half = read(body, scale=0.5)
    assert half.dark.bounds == pytest.approx((30, 37.5, 40, 42.5))
    assert read(body, height_mm=30, box="page").dark.bounds == pytest.approx((30, 37.5, 40, 42.5))


def test_a_view_box_alone_takes_its_size_from_the_job(read):
    root = 'viewBox="0 0 200 120"'
    drawing = read('<rect width="100" height="60"/>', root=root, width_mm=100)
    assert same(drawing.dark, box(0, 30, 50, 60))
    with pytest.raises(ArtworkError, match=r"does not say how large it is; give artwork\.width"):
        read('<rect width="100" height="60"/>', root=root)


def test_regions_stay_valid_when_they_are_shifted_and_mirrored(read):
    # Bars that end on a ring's edge touch it between vertices until noded.
    bars = "".join(
        f'<rect transform="rotate({7.3 * k})" x="-.3" y="-17" width=".6" height="9"/>'
        for k in range(49)
    )
    rings = (
        '<circle r="12" fill="#fff"/><circle r="12.3" fill="none" stroke="#000" stroke-width=".6"/>'
    )
    drawing = read(f'<g transform="translate(50.1 30.7)">{bars}{rings}</g>')
    for region in (drawing.dark, *(shape.region for shape in drawing.shapes)):
        assert region.is_valid
        for shift in np.random.default_rng(3).uniform(-50, 50, 20):
            assert shapely.transform(region, lambda xy, s=shift: (s, 0) - xy * (1, -1)).is_valid


def test_the_same_file_gives_the_same_bytes(read):
    body = '<circle cx="50" cy="30" r="20"/><path d="M10 10L90 50" stroke="#fff" stroke-width="3"/>'
    one, two = read(body), read(body)
    assert one.dark.wkb == two.dark.wkb
    assert [s.region.wkb for s in one.shapes] == [s.region.wkb for s in two.shapes]


@pytest.mark.parametrize("families", ["Tide Letters, serif", "sans-serif", "'Tide', monospace"])
def test_lettering_that_leaves_the_family_open_is_set_in_the_one_at_hand_and_said(read, families):
    drawing = read(f'<text font-family="{families}" font-size="20" x="5" y="30">LOCK</text>')
    plain = read('<text font-family="Barlow" font-size="20" x="5" y="30">LOCK</text>')
    assert same(drawing.dark, plain.dark)
    (finding,) = [f for f in drawing.findings if "was taken" in f.message]
    assert finding.level is Level.CAUTION
    assert "Barlow" in finding.message


@pytest.mark.parametrize(
    "words", ["PIER 1 \N{EN DASH} 7", "THE WARDEN\N{RIGHT SINGLE QUOTATION MARK}S"]
)
def test_signs_beyond_plain_letters_leave_the_choice_of_an_open_family_as_it_is(read, words):
    """Typefaces of other scripts lend letters; neither of two readers may set all in them."""
    drawing = read(f'<text font-family="sans-serif" font-size="9" x="5" y="30">{words}</text>')
    plain = read(f'<text font-family="Barlow" font-size="9" x="5" y="30">{words}</text>')
    assert same(drawing.dark, plain.dark)


def test_a_hairline_beside_a_gradient_is_read(read):
    """The line lies across two rows of the check's pixels, half grey in both renderings."""
    drawing = read(
        '<defs><linearGradient id="g"><stop offset="0" stop-color="#000"/>'
        '<stop offset="1" stop-color="#333"/></linearGradient></defs>'
        '<rect x="5" y="20" width="60" height="8" fill="url(#g)"/>'
        '<path d="M5 55.003H75" stroke="#000" stroke-width="0.08" fill="none"/>'
    )
    assert drawing.dark.area == pytest.approx(60 * 8 + 70 * 0.08, rel=1e-3)


@pytest.mark.parametrize(
    ("ring", "area_mm2"),
    [
        # What a flag's later paints left of two of its shapes, which a rounding makes cross itself.
        ([(45.77368674097833, 107.01482757170479), (45.77489387062785, 107.03403614912948),
          (45.76473419383634, 107.02568599271456), (45.71625253109007, 107.08448873309713)],
         9.2537e-5),
        ([(47.33000434037749, 108.84320841322284), (47.15663483749588, 108.83056785808293),
          (47.15663483837889, 108.83056784927084), (47.24649635303404, 108.83711974803083),
          (47.255421748222226, 108.74804806898487), (47.2929853222753, 108.75078686918431),
          (47.2840599262041, 108.83985855704239)], 3.38e-3),
    ],
)  # fmt: skip
def test_a_sliver_that_crosses_itself_is_put_on_the_grid(ring, area_mm2):
    region = noded(shapely.Polygon(ring))
    assert region.is_valid
    assert region.area == pytest.approx(area_mm2, rel=0.02)
