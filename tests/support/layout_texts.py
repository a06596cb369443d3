"""Hypothesis strategies: valid layout and shop files as text, with the same as plain numbers in mm."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from hypothesis import strategies as st
from support.plain_layout import PlainPart, PlainShop, spaced
from support.rigid_board import EndDesign, Jig

INCH = Fraction("25.4")
MARGIN_MM = 0.3
PIN_RANGE_MM = 8.0
HALF_PIN_RANGE_MM = 6.0


@dataclass(frozen=True)
class Said:
    """A length as a person writes it, and what it is in mm."""

    text: str
    mm: float

    @property
    def toml(self) -> str:
        """The text as a TOML string."""
        return quoted(self.text)


@dataclass(frozen=True)
class ShopText:
    """A shop file, the slope of its jig as written, and its numbers."""

    text: str
    slope_text: str
    shop: PlainShop


@dataclass(frozen=True)
class LayoutText:
    """A layout file and its numbers."""

    text: str
    tolerance_mm: float | None
    parts: tuple[PlainPart, ...]


@dataclass(frozen=True)
class Need:
    """The narrowest sockets and tails, at the end, that a layout for a shop may have."""

    pin_mm: float
    half_pin_mm: float
    tail_mm: float


@dataclass(frozen=True)
class Spacing:
    """Lines of a spacing in a file, and the marks that they come to."""

    lines: tuple[str, ...]
    marks: EndDesign

    def at(self, tail_length_mm: float) -> EndDesign:
        """The same marks with tails of another length."""
        return EndDesign(tail_length_mm, self.marks.top_marks_mm, self.marks.bottom_marks_mm)


def quoted(text: str) -> str:
    """`text` as a TOML string."""
    return json.dumps(text, ensure_ascii=False)


@st.composite
def lengths(draw: st.DrawFn, low_mm: float, high_mm: float) -> Said:
    """A positive length between two others, in any notation that a file may hold."""
    first = math.ceil(Fraction(low_mm) / INCH * 64)
    last = math.floor(Fraction(high_mm) / INCH * 64)
    if first <= last and draw(st.booleans()):
        return draw(inches(draw(st.integers(first, last))))
    per_mm = draw(st.sampled_from((1, 10, 100)))
    if math.ceil(low_mm * per_mm) > math.floor(high_mm * per_mm):
        per_mm = 100
    count = draw(st.integers(math.ceil(low_mm * per_mm), math.floor(high_mm * per_mm)))
    said = (f"{Decimal(count) / per_mm} mm", f"{Decimal(count) / per_mm / 10} cm")
    return Said(draw(st.sampled_from(said)), float(Fraction(count, per_mm)))


@st.composite
def inches(draw: st.DrawFn, sixty_fourths: int) -> Said:
    """So many sixty-fourths of an inch, in one of the notations for inches."""
    whole, over = divmod(sixty_fourths, 64)
    rest = Fraction(over, 64)
    texts = [f"{Decimal(sixty_fourths) / 64} in"]
    if not rest:
        texts += [f"{whole} in", f'{whole}"']
    elif whole:
        texts += [f"{whole} {rest} in", f'{whole}-{rest}"']
    else:
        texts += [f"{rest} in", f'{rest}"']
    feet, left = divmod(whole, 12)
    if feet and left and rest:
        texts += [f"{feet} ft {left} {rest} in", f"{feet}' {left}-{rest}\""]
    return Said(draw(st.sampled_from(texts)), float(Fraction(sixty_fourths, 64) * INCH))


@st.composite
def shops(draw: st.DrawFn) -> ShopText:
    """A shop whose fence and throat reach any layout of `layouts`."""
    kerf = draw(lengths(0.5, 1.3))
    slope_text, slope = draw(slopes())
    width = draw(lengths(62, 140))
    leading_end = draw(st.sampled_from(("wide", "wide", "wide", "narrow")))
    side = draw(st.sampled_from(("right", "left")))
    column = draw(st.sampled_from(("left", "right")))
    scale, graduation_mm = draw(st.sampled_from((("none", 0.0), ("1/32 in", 25.4 / 32), ("0.5 mm", 0.5))))
    zero = draw(st.sampled_from(("0 mm", "3 mm", "1/8 in", "-2.3 mm")))
    name = draw(st.sampled_from(("one in eight", "Keil [rechts]", "jig 2")))
    text = f"""\
format = 1
[saw]
kerf = {kerf.toml}
column_side = "{column}"
throat = "1500 mm"
backing_out = "stopped"
[[fences]]
side = "{side}"
min = "0 mm"
max = "900 mm"
front = "30 mm"
scale = "{scale}"
zero = "{zero}"
[[jigs]]
name = {quoted(name)}
slope = {quoted(slope_text)}
leading_width = {width.toml}
leading_end = "{leading_end}"
length = "250 mm"
thickness = "6 mm"
"""
    jig = Jig(slope, width.mm, leading_end, 250.0)
    return ShopText(text, slope_text, PlainShop(kerf.mm, name, jig, side, graduation_mm))


@st.composite
def slopes(draw: st.DrawFn) -> tuple[str, float]:
    """A slope from 1:5 to 1:10, as written and in radians."""
    if draw(st.booleans()):
        along = Decimal(draw(st.integers(50, 100))) / 10
        return f"1:{along.normalize():f}", math.atan(1 / float(along))
    degrees = Decimal(draw(st.integers(58, 113))) / 10
    return f"{degrees}{draw(st.sampled_from((' deg', '°')))}", math.radians(float(degrees))


@st.composite
def layouts(draw: st.DrawFn, shop: ShopText, labels: Sequence[str]) -> LayoutText:
    """A layout that can be cut in `shop`, with a part for each of `labels`."""
    slope = shop.shop.jig.slope
    lines = ["format = 1", f"name = {quoted('Layout of ' + ' and '.join(labels)[:40])}"]
    said = draw(st.sampled_from((None, shop.slope_text, f"{math.degrees(slope):.2f} deg")))
    if said is not None:
        lines.append(f"slope = {quoted(said)}")
    tolerance = draw(st.none() | lengths(0.05, 0.4))
    if tolerance is not None:
        lines.append(f"tolerance = {tolerance.toml}")
    if draw(st.booleans()):
        lines.append('species = "cherry"')
    parts = []
    for label in labels:
        part_lines, part = draw(_parts(shop.shop, label))
        lines += ["", *part_lines]
        parts.append(part)
    return LayoutText("\n".join(lines) + "\n", None if tolerance is None else tolerance.mm, tuple(parts))


@st.composite
def batches(draw: st.DrawFn) -> tuple[ShopText, list[LayoutText]]:
    """A shop and one or two layouts for it, no two parts with one label."""
    shop = draw(shops())
    labels = list(draw(st.permutations(("side", "back", "Zarge ü", "a [b] & c"))))
    found = [draw(layouts(shop, labels[: draw(st.integers(1, 3))]))]
    if draw(st.integers(0, 3)) == 0:
        found.append(draw(layouts(shop, labels[3:])))
    return shop, found


@st.composite
def _parts(draw: st.DrawFn, shop: PlainShop, label: str) -> tuple[list[str], PlainPart]:
    width = draw(lengths(46, 190))
    length = draw(lengths(160, 480))
    thickness = draw(lengths(8, 20))
    boards = draw(st.integers(1, 3))
    spares = draw(st.integers(0, 2))
    handed = draw(st.booleans())
    ends = draw(st.sampled_from(("A", "B", "both")))
    lines = [
        "[[parts]]",
        f"label = {quoted(label)}",
        f"boards = {boards}",
        f"width = {width.toml}",
        f"thickness = {thickness.toml}",
        f"length = {length.toml}",
        f'ends = "{ends}"',
    ]
    if spares or draw(st.booleans()):
        lines.append(f"spares = {spares}")
    if handed or draw(st.booleans()):
        lines.append(f"handed = {str(handed).lower()}")
    if draw(st.integers(0, 5)) == 0:
        lines.append('groove = { from_bottom = "8 mm", width = "5 mm" }')
    joint_lines, root_mm = draw(_joints())
    spacing = draw(_spacings(shop, width.mm, root_mm))
    lines += [*joint_lines, *spacing.lines]
    designs = {}
    own_lines = []
    for end in ("A", "B"):
        if ends not in (end, "both"):
            continue
        designs[end] = spacing.at(root_mm)
        if draw(st.integers(0, 2)) == 0:
            joint, own_root_mm = draw(_joints())
            respaced = own_root_mm > root_mm or draw(st.booleans())
            own = draw(_spacings(shop, width.mm, own_root_mm)) if respaced else spacing
            own_lines += [f"[parts.end_{end}]", *joint, *(own.lines if respaced else ())]
            designs[end] = own.at(own_root_mm)
    part = PlainPart(label, boards, spares, handed, width.mm, length.mm, thickness.mm, designs)
    return [*lines, *own_lines], part


@st.composite
def _joints(draw: st.DrawFn) -> tuple[list[str], float]:
    """Every key of a joint, so that an end of its own replaces the part's, and the tail length in mm."""
    mates = draw(lengths(8, 22))
    allowance = draw(st.sampled_from((Said("0 mm", 0.0), Said("0.5 mm", 0.5), Said("-0.4 mm", -0.4))))
    lines = [f"mates_with = {mates.toml}", f"baseline = {allowance.toml}"]
    root_mm = mates.mm + allowance.mm
    if draw(st.booleans()):
        return ['joint = "through"', *lines], root_mm
    lap = draw(lengths(2, mates.mm / 2))
    return ['joint = "half-blind"', *lines, f"lap = {lap.toml}"], root_mm - lap.mm


@st.composite
def _spacings(draw: st.DrawFn, shop: PlainShop, width_mm: float, root_mm: float) -> Spacing:
    slope = shop.jig.slope
    narrowest = shop.kerf_mm / math.cos(slope) + MARGIN_MM
    # A tail at the baseline is at least a third of what it is at the end: tail − 2·root·tan ≥ tail / 3.
    need = Need(narrowest, narrowest, max(3.0, 3 * root_mm * math.tan(slope) + 1.5))
    kind = draw(st.sampled_from(("tails", "proportions", "marks", "symmetrical marks")))
    if kind in ("tails", "proportions"):
        return draw(_shared_out(need, width_mm, root_mm, unequal=kind == "proportions"))
    return draw(_drawn_by_hand(need, width_mm, root_mm, symmetrical=kind != "marks"))


@st.composite
def _shared_out(draw: st.DrawFn, need: Need, width_mm: float, root_mm: float, *, unequal: bool) -> Spacing:
    half_pin = draw(lengths(need.half_pin_mm, need.half_pin_mm + HALF_PIN_RANGE_MM))
    pin = draw(lengths(need.pin_mm, need.pin_mm + PIN_RANGE_MM))
    room = width_mm - 2 * half_pin.mm
    most = max(1, math.floor((room + pin.mm) / (need.tail_mm + pin.mm)))
    tails = draw(st.integers(1, min(most, 8)))
    lines = [f"half_pin = {half_pin.toml}", f"pin = {pin.toml}"]
    parts = [1.0] * tails
    wood = room - (tails - 1) * pin.mm
    if unequal:
        # The smallest tail has at least 1/(1 + (tails − 1)·ratio) of the wood.
        ratio = 2.0 if tails == 1 else min(2.0, (wood / need.tail_mm - 1) / (tails - 1))
        tenths = st.integers(10, max(10, math.floor(ratio * 10)))
        parts = [count / 10 for count in draw(st.lists(tenths, min_size=tails, max_size=tails))]
        lines.append(f"proportions = [{', '.join(f'{part:g}' for part in parts)}]")
    else:
        lines.append(f"tails = {tails}")
    return Spacing(tuple(lines), spaced(width_mm, parts, half_pin.mm, pin.mm, root_mm))


@st.composite
def _drawn_by_hand(draw: st.DrawFn, need: Need, width_mm: float, root_mm: float, *, symmetrical: bool) -> Spacing:
    """Marks for one tail in each of as many equal bays, each mark anywhere in the first part of its bay."""
    before = max(need.half_pin_mm, need.pin_mm / 2)
    most = max(1, math.floor(width_mm / (need.tail_mm + 2 * before + 1)))
    tails = draw(st.integers(1, min(most, 8)))
    bay = width_mm / tails
    play = (bay - need.tail_mm - 2 * before) / 2
    ranges = [(n * bay + before, n * bay + before + play) for n in range(tails)]
    top = [draw(lengths(low, high)) for low, high in ranges]
    bottom = top if symmetrical else [draw(lengths(low, high)) for low, high in ranges]
    lines = tuple(
        f"{key} = [{', '.join(mark.toml for mark in marks)}]"
        for key, marks in (("top_marks", top), ("bottom_marks", bottom))
    )
    return Spacing(lines, EndDesign(root_mm, tuple(m.mm for m in top), tuple(m.mm for m in bottom)))
