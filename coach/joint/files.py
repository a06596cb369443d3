"""Reads a layout file."""

from __future__ import annotations

import math
from fractions import Fraction
from pathlib import Path
from typing import Any

from coach.joint.layout import EndLayout, Groove, Layout, Part
from coach.joint.spacing import Marks, even, proportioned
from coach.lengths import Unit
from coach.tables import Table, read_source
from coach.words import End, Joint

MOST_BOARDS = 10_000
MOST_TAILS = 100
_SPACING = ("tails", "half_pin", "pin", "proportions", "top_marks", "bottom_marks")
_JOINT = ("joint", "lap", "mates_with", "baseline")
_PART = (
    "label", "boards", "spares", "handed", "width", "widest", "thickness", "length", "ends", "groove",
    "end_A", "end_B", *_JOINT, *_SPACING,
)  # fmt: skip


def read_layout(path: Path) -> Layout:
    """The layout in the file at `path`; CoachError with every mistake in it."""
    return parse_layout(str(path), read_source(path))


def parse_layout(name: str, text: str) -> Layout:
    """The layout that `text` describes; `name` stands before each message. CoachError with every mistake in it."""
    root = Table.parse(name, text)
    root.known(("format", "name", "slope", "tolerance", "species", "parts"))
    root.count("format", 1, 1)
    title = root.text("name")
    slope = root.slope("slope", required=False)
    tolerance = root.length("tolerance", required=False)
    species = root.text("species", required=False)
    tables = root.tables("parts")
    parts = [part for part in map(_part, tables) if part is not None]
    seen: set[str] = set()
    for table, label in ((table, table.data.get("label")) for table in tables):
        if isinstance(label, str):
            if label.strip() in seen:
                table.wrong("label", f'"{label}" is the label of an earlier part; every part needs its own')
            seen.add(label.strip())
    total = sum(part.boards + part.spares for part in parts)
    if total > MOST_BOARDS:
        root.wrong("parts", f"{total} boards in all; at most {MOST_BOARDS} are allowed")
    root.done()
    assert title is not None
    unit = _unit(root.data["parts"])
    return Layout(title, slope, None if tolerance is None else float(tolerance), species, tuple(parts), unit)


def _unit(tables: list[dict[str, Any]]) -> Unit:
    """The unit in which most of a layout's widths, thicknesses and lengths are written."""
    texts = [str(table[key]) for table in tables for key in ("width", "thickness", "length") if key in table]
    metric = sum(text.rstrip().endswith("m") for text in texts)
    return "mm" if 2 * metric >= len(texts) else "in"


def _part(table: Table) -> Part | None:
    before = len(table.problems)
    table.known(_PART)
    label = table.text("label")
    boards = table.count("boards", 1, MOST_BOARDS)
    spares = table.count("spares", 0, MOST_BOARDS, default=0)
    handed = table.flag("handed")
    width = table.length("width", positive=True)
    widest = table.length("widest", required=False, positive=True)
    thickness = table.length("thickness", positive=True)
    length = table.length("length", positive=True)
    which = table.choice("ends", ("A", "B", "both"))
    groove = _groove(table, width)
    if width is not None and widest is not None and widest < width:
        table.wrong("widest", "less than the width; expected the width of the widest board as measured")
    spacing = {key: table for key in _SPACING if table.has(key)}
    ends: dict[End, EndLayout] = {}
    for end in End:
        own = table.table(f"end_{end}")
        if own is not None:
            own.known((*_JOINT, *_SPACING))
        if which is None:
            continue
        if which not in (end.value, "both"):
            if own is not None:
                own.wrong(None, f'end {end} isn\'t cut, since ends = "{which}"; leave this table out')
            continue
        layout = _end(table, own, spacing, width)
        if layout is not None:
            ends[end] = layout
    if len(table.problems) > before or None in (label, boards, spares, width, thickness, length):
        return None
    assert label is not None and boards is not None and spares is not None
    assert width is not None and thickness is not None and length is not None
    return Part(
        label, boards, spares, handed, float(width), float(widest or width), float(thickness), float(length), ends, groove
    )  # fmt: skip


def _groove(table: Table, width: Fraction | None) -> Groove | None:
    groove = table.table("groove")
    if groove is None:
        return None
    groove.known(("from_bottom", "width"))
    start = groove.length("from_bottom")
    wide = groove.length("width", positive=True)
    if start is None or wide is None:
        return None
    if width is not None and start + wide > width:
        groove.wrong(None, "reaches beyond the top edge; expected from_bottom + width within the board's width")
        return None
    return Groove(float(start), float(wide))


def _end(part: Table, own: Table | None, shared: dict[str, Table], width: Fraction | None) -> EndLayout | None:
    """The layout of one end: the part's own, with what differs at the end laid over it."""
    before = len(part.problems)
    where = own if own is not None else part

    def of(key: str) -> Table:
        return own if own is not None and own.has(key) else part

    kind = of("joint").choice("joint", [joint.value for joint in Joint])
    mates = of("mates_with").length("mates_with", positive=True)
    allowance = of("baseline").length("baseline", required=False, signed=True)
    lap: Fraction | None = Fraction(0)
    if kind == Joint.HALF_BLIND:
        lap = of("lap").length("lap", positive=True)
        if lap is not None and mates is not None and lap >= mates:
            of("lap").wrong("lap", "as thick as its pin board or thicker; expected less than mates_with")
    elif kind == Joint.THROUGH and of("joint").has("lap"):
        of("joint").wrong("lap", 'a through joint has no lap; leave it out or say joint = "half-blind"')
    if mates is not None and lap is not None and lap < mates and mates - lap + (allowance or 0) <= 0:
        of("baseline").wrong("baseline", "takes away the whole tail length; expected a small allowance")
    if own is not None and any(own.has(key) for key in _SPACING):
        spacing = {key: own for key in _SPACING if own.has(key)}
    else:
        spacing = shared
    marks = _marks(where if spacing is not shared else part, spacing, width)
    if len(part.problems) > before or kind is None or mates is None or lap is None or marks is None:
        return None
    return EndLayout(Joint(kind), float(mates), float(lap), float(allowance or 0), *marks)


def _marks(where: Table, spacing: dict[str, Table], width: Fraction | None) -> Marks | None:
    drawn = [key for key in ("top_marks", "bottom_marks") if key in spacing]
    widths = [key for key in ("tails", "half_pin", "pin", "proportions") if key in spacing]
    if drawn and widths:
        where.wrong(widths[0], f"stands beside {drawn[0]}: two spacings; expected one of them")
        return None
    if drawn:
        return _drawn_marks(where)
    if not widths:
        where.wrong(
            None, "no spacing; expected tails, half_pin and pin, or proportions, half_pin and pin, or top_marks and bottom_marks"
        )  # fmt: skip
        return None
    half_pin = where.length("half_pin", positive=True)
    pin = where.length("pin", positive=True, required=where.data.get("tails") != 1)
    if "tails" in spacing and "proportions" in spacing:
        where.wrong("proportions", "stands beside tails: two spacings; expected one of them")
        return None
    if "proportions" in spacing:
        shares = _shares(where)
        if shares is None or None in (width, half_pin, pin):
            return None
        assert width is not None and half_pin is not None and pin is not None
        return proportioned(width, half_pin, pin, shares)
    tails = where.count("tails", 1, MOST_TAILS)
    if width is None or half_pin is None or tails is None or (pin is None and tails > 1):
        return None
    return even(width, half_pin, pin or Fraction(0), tails)


def _drawn_marks(where: Table) -> Marks | None:
    marks = [where.lengths(key) for key in ("top_marks", "bottom_marks")]
    for key, found in zip(("top_marks", "bottom_marks"), marks, strict=True):
        if found is None:
            continue
        if not 1 <= len(found) <= MOST_TAILS:
            where.wrong(key, f"{len(found)} marks; expected from 1 to {MOST_TAILS}")
        if any(later <= earlier for earlier, later in zip(found, found[1:], strict=False)):
            where.wrong(key, "the marks don't ascend; expected each further from its edge than the one before")
    top, bottom = marks
    if top is None or bottom is None:
        return None
    if len(top) != len(bottom):
        where.wrong("bottom_marks", f"{len(bottom)} marks, but top_marks has {len(top)}; every tail needs one of each")
        return None
    return tuple(map(float, top)), tuple(map(float, bottom))


def _shares(where: Table) -> list[Fraction] | None:
    found = where.data["proportions"]
    expected = f"1 to {MOST_TAILS} numbers above zero, such as [1, 1.4, 1]"
    if not isinstance(found, list) or not 1 <= len(found) <= MOST_TAILS:
        where.wrong("proportions", f"expected {expected}")
        return None
    shares = []
    for number, share in enumerate(found, 1):
        if isinstance(share, bool) or not isinstance(share, int | float) or not math.isfinite(share):
            where.wrong("proportions", f"number {number} isn't a plain number; expected {expected}")
            return None
        if not 0.001 <= share <= 1000:
            where.wrong("proportions", f"number {number} isn't within 0.001 and 1000; expected {expected}")
            return None
        shares.append(Fraction(str(share)))
    return shares
