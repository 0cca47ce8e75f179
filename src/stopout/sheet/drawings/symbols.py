"""The black or white symbols of the safety signs, on a field of 100 by 100, y down.

Each is drawn by us from the symbol's published description: UN GHS (Rev. 9), annex 1, for the
pictograms; the ISO 7010 register's wording for the others. `INK` and `PAPER` stand for the
symbol's colour and for that of its ground, so that one drawing serves on any field.
"""

from __future__ import annotations

INK, PAPER = "{ink}", "{paper}"


def _fill(data: str, tint: str = INK) -> str:
    return f'<path d="{data}" fill="{tint}" fill-rule="evenodd"/>'


def _line(data: str, width: float, tint: str = INK) -> str:
    return (
        f'<path d="{data}" fill="none" stroke="{tint}" stroke-width="{width:g}" '
        'stroke-linecap="round" stroke-linejoin="round"/>'
    )


def _disc(x: float, y: float, r: float, tint: str = INK) -> str:
    return f'<circle cx="{x:g}" cy="{y:g}" r="{r:g}" fill="{tint}"/>'


def _placed(symbol: str, x: float, y: float, scale: float) -> str:
    """A symbol made smaller, its middle (50, 50) laid on a place."""
    return f'<g transform="translate({x:g} {y:g}) scale({scale:g}) translate(-50 -50)">{symbol}</g>'


def _turned(symbol: str, degrees: float, x: float, y: float) -> str:
    return f'<g transform="rotate({degrees:g} {x:g} {y:g})">{symbol}</g>'


_FLAME_SHAPE = _fill(
    "M52 12C57 25 73 33 73 55C73 71 63 80 50 80C37 80 27 71 27 56C27 46 32 39 35 31"
    "C38 36 40 40 41 45C49 37 53 26 52 12Z"
) + _fill(
    "M51 75C43 75 38 69 39 61C40 56 42 53 43 49C46 53 47 56 48 59C52 54 53 48 52 42"
    "C58 49 62 55 61 63C60 70 57 75 51 75Z",
    PAPER,
)
_FLAME = _FLAME_SHAPE + _fill("M24 84H76V91H24Z")
_FLAME_ON_RING = (
    '<circle cx="50" cy="67" r="17" fill="none" stroke="{ink}" stroke-width="7"/>'
    + _placed(_FLAME_SHAPE, 50, 33, 0.55)
    + _fill("M28 89H72V95H28Z")
)
_TUBE = _fill("M-4 -8H24A8 8 0 0 1 24 8H-4Z") + _fill("M1 -4H22A4 4 0 0 1 22 1H1Z", PAPER)
_DROPS = "".join(_line(f"M{x} {y}V{y + 4}", 3.4) for x, y in ((0, 0), (0, 9), (0, 18)))
_CORROSION = (
    f'<g transform="translate(36 31) rotate(-142)">{_TUBE}</g>'
    f'<g transform="translate(64 31) rotate(-38)">{_TUBE}</g>'
    f'<g transform="translate(31 43)">{_DROPS}</g>'
    f'<g transform="translate(69 43)">{_DROPS}</g>'
    # The bar and the hand, eaten where the drops fall.
    + _fill("M14 70H23L27 75L31 72L35 77L39 70H47V82H14Z")
    + _fill(
        "M53 84C53 76 56 71 62 70L65 75L70 72L73 77L77 71C81 72 85 73 89 73C92 73 92 78 89 78"
        "L79 79C86 79 88 84 82 85L64 88C58 88 54 87 53 84Z"
    )
)
_SKULL = (
    _line("M18 66L82 92M82 66L18 92", 7)
    + "".join(_disc(x, y, 5.4) for x in (16, 84) for y in (64, 69, 89, 94))
    + _fill(
        "M50 8C70 8 80 21 80 36C80 46 76 51 68 55L67 67C67 71 33 71 33 67L32 55"
        "C24 51 20 46 20 36C20 21 30 8 50 8Z"
    )
    + _fill("M28 39C28 31 44 30 45 38C46 48 40 50 36 49C31 48 28 45 28 39Z", PAPER)
    + _fill("M72 39C72 31 56 30 55 38C54 48 60 50 64 49C69 48 72 45 72 39Z", PAPER)
    + _fill("M50 46L45 56H55Z", PAPER)
    + _line("M42 62V69M50 62V70M58 62V69", 2.4, PAPER)
)
_EXCLAMATION = (
    _fill("M50 10C57 10 61 15 60 22L55 60C54 66 46 66 45 60L40 22C39 15 43 10 50 10Z")
    + _disc(50, 80, 9)
)  # fmt: skip
_STAR = (
    "M50 42L54 54L66 48L60 60L72 64L60 68L66 80L54 74L50 88L46 74L34 80L40 68L28 64L40 60"
    "L34 48L46 54Z"
)
_HEALTH = (
    _fill("M50 2C59 2 65 9 64 18C63 26 60 29 59 33L78 42C83 45 84 48 84 53L76 96H24L16 53"
          "C16 48 17 45 22 42L41 33C40 29 37 26 36 18C35 9 41 2 50 2Z")
    + _fill(_STAR, PAPER)
)  # fmt: skip
_ENVIRONMENT = (
    _line("M38 68C40 54 38 42 37 10M38 36L26 20M38 48L22 36M38 32L50 14M38 50L54 34", 4.6)
    + _line("M10 70H44", 5)
    + _line("M50 71C58 68 66 72 76 69", 4)
    + _fill("M38 80C48 69 62 69 71 78L83 70C81 77 81 82 84 90L71 83C60 92 47 90 38 80Z")
    + _disc(47, 78, 2.2, PAPER)
)  # fmt: skip

_HEAD = "M50 12C64 12 72 22 72 38C72 58 63 72 50 72C37 72 28 58 28 38C28 22 36 12 50 12Z"
_SHOULDERS = "M12 96C14 82 26 78 38 76L50 82L62 76C74 78 86 82 88 96Z"
_GOGGLES = (
    _fill("M24 34H76V40L73 42C72 52 56 54 52 44H48C44 54 28 52 27 42L24 40Z", PAPER)
    + _fill("M33 38H45C45 46 33 46 33 38ZM55 38H67C67 46 55 46 55 38Z")
)  # fmt: skip
_EYES = _fill(_HEAD) + _fill(_SHOULDERS) + _GOGGLES
_SHIELD = (
    _fill(_HEAD)
    + _fill(_SHOULDERS)
    + _fill("M23 22C40 13 60 13 77 22L75 66C66 80 34 80 25 66Z", PAPER)
    + _fill("M28 28C42 21 58 21 72 28L70 63C62 73 38 73 30 63Z")
    + _line("M27 19C38 12 62 12 73 19", 5)
    + _disc(42, 40, 3, PAPER) + _disc(58, 40, 3, PAPER)
)  # fmt: skip
_MASK = (
    _fill(_HEAD)
    + _fill(_SHOULDERS)
    + _disc(41, 36, 3, PAPER) + _disc(59, 36, 3, PAPER)
    + _fill("M32 48C42 43 58 43 68 48V60C64 70 36 70 32 60Z", PAPER)
    + _line("M32 49L27 42M68 49L73 42M33 60L29 58M67 60L71 58", 2.6, PAPER)
    + _line("M37 53H63M38 60H62", 2)
)  # fmt: skip
_RESPIRATOR = (
    _fill(_HEAD)
    + _fill(_SHOULDERS)
    + _disc(41, 34, 3, PAPER) + _disc(59, 34, 3, PAPER)
    + _fill("M50 40L64 54L60 70H40L36 54Z", PAPER)
    + _disc(30, 62, 12, PAPER) + _disc(70, 62, 12, PAPER)
    + _disc(30, 62, 8) + _disc(70, 62, 8)
    + _line("M25 62H35M65 62H75", 2.6, PAPER)
    + _disc(50, 60, 4)
)  # fmt: skip
_GLOVES = _fill(
    "M34 90V66C28 60 22 52 19 46C17 41 23 38 27 42L36 52V18C36 12 44 12 44 18V44H46V13"
    "C46 7 55 7 55 13V44H57V17C57 11 65 11 65 17V46H67V25C67 19 75 19 75 25V56"
    "C75 62 73 66 70 69V90Z"
) + _fill("M34 74H70V79H34Z", PAPER)
_APRON = (
    _disc(50, 17, 11)
    + _fill("M30 32H70C78 32 82 38 82 44V70H74V46H71V94H29V46H26V70H18V44C18 38 22 32 30 32Z")
    + _line("M40 33L42 46M60 33L58 46", 3, PAPER)
    + _fill("M39 46H61V54L70 58V90H30V58L39 54Z", PAPER)
    + _fill("M42 50H58V57L66 61V86H34V61L42 57Z")
    + _line("M41 68H59", 3, PAPER)
)  # fmt: skip
_BOOK = (
    _disc(50, 20, 13)
    + _fill("M50 50C40 42 24 42 12 46V84C24 80 40 80 50 88C60 80 76 80 88 84V46C76 42 60 42 50 50Z")
    + _line("M50 52V84", 3, PAPER)
    + "".join(
        _line(f"M20 {y}C28 {y - 2} 36 {y - 1} 42 {y + 3}M80 {y}C72 {y - 2} 64 {y - 1} 58 {y + 3}",
              2.6, PAPER)
        for y in (55, 64, 73)
    )
    + _fill("M28 42C30 36 40 34 50 38C60 34 70 36 72 42L62 42L50 46L38 42Z")
)  # fmt: skip
_CIGARETTE = (
    _fill("M6 50H74V63H6Z")
    + _fill("M28 53.5H70V59.5H28Z", PAPER)
    + _fill("M77 50H83V63H77ZM86 50H92V63H86Z")
    + _line("M79 43C79 35 70 37 70 29C70 22 77 23 77 16M90 43C90 33 80 34 81 26", 4.2)
)
_MATCH = _fill("M45 46H55V99H45Z") + _placed(_FLAME_SHAPE, 50, 25, 0.8) + _disc(50, 50, 8)
_LASER = (
    "".join(_turned(_fill("M38 50L42 20H34Z" if k % 2 else "M38 50L43 12H33Z"), 30 * k, 38, 50)
            for k in range(12) if k != 3)
    + _disc(38, 50, 13)
    + _fill("M38 47.5H98V52.5H38Z")
)  # fmt: skip
_BOLT = _fill("M58 6L30 56H47L38 82L30 79L40 99L59 86L51 84L68 46H51L66 6Z")
_CROSS = _fill("M38 14H62V38H86V62H62V86H38V62H14V38H38Z")
_EYEWASH = (
    _fill("M12 30C28 8 72 8 88 30C72 52 28 52 12 30Z")
    + _fill("M20 30C34 14 66 14 80 30C66 46 34 46 20 30Z", PAPER)
    + _disc(50, 30, 11)
    + _disc(50, 30, 4, PAPER)
    + _line("M50 56V66M40 57L43 66M60 57L57 66M32 56L38 66M68 56L62 66", 3.6)
    + _fill("M26 72H74C72 84 62 88 54 88V96H46V88C38 88 28 84 26 72Z")
)
_SHOWER = (
    _fill("M22 6H54V14C64 15 70 20 72 26H28C30 20 36 15 46 14H22Z")
    + _line("M34 32V40M42 32V44M58 32V44M66 32V40M30 48V58M70 48V58", 3.4)
    + _disc(50, 43, 8)
    + _fill("M38 54H62C66 54 68 57 68 60V78H62V62H60V97H52V80H48V97H40V62H38V78H32V60"
            "C32 57 34 54 38 54Z")
)  # fmt: skip
_EXTINGUISHER = (
    _fill("M22 38C22 30 28 27 34 26V20H26V13H50V19L60 16V23L46 25V26C53 27 58 30 58 38V94H22Z")
    + _line("M28 16C14 18 12 30 12 44", 4.4)
    + _fill("M27 48H53V66H27Z", PAPER)
    + _placed(_FLAME_SHAPE, 78, 62, 0.5)
)

SYMBOLS: dict[str, str] = {
    "GHS02": _FLAME,
    "GHS03": _FLAME_ON_RING,
    "GHS05": _CORROSION,
    "GHS06": _SKULL,
    "GHS07": _EXCLAMATION,
    "GHS08": _HEALTH,
    "GHS09": _ENVIRONMENT,
    "M002": _BOOK,
    "M004": _EYES,
    "M009": _GLOVES,
    "M013": _SHIELD,
    "M016": _MASK,
    "M017": _RESPIRATOR,
    "M026": _APRON,
    "P002": _CIGARETTE,
    "P003": _MATCH,
    "W001": _EXCLAMATION,
    "W004": _LASER,
    "W012": _BOLT,
    "W016": _SKULL,
    "W021": _FLAME,
    "W023": _CORROSION,
    "W028": _FLAME_ON_RING,
    "E003": _CROSS,
    "E011": _EYEWASH,
    "E012": _SHOWER,
    "F001": _EXTINGUISHER,
}
