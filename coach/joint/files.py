"""Reads a layout file."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

from coach.ground.clean import shown_path
from coach.ground.errors import CoachError
from coach.ground.lengths import Unit, show_length
from coach.ground.terms import End, Joint
from coach.joint.layout import MOST_BOARDS, MOST_TAILS, EndLayout, Groove, Layout, Part
from coach.joint.limits import Problem
from coach.joint.spacing import Marks, proportioned
from coach.toml.tables import Table, read_source, shown

_SPACING = ("tails", "half_pin", "pin", "proportions", "top_marks", "bottom_marks")
_JOINT = ("joint", "lap", "mates_with", "baseline")
_ROOT = ("format", "name", "slope", "tolerance", "species", "parts")
_AT_THE_TOP = dict.fromkeys(("slope", "tolerance", "species"), "at the top of the file, before the first [[parts]]") | {
    "name": "at the top of the file, before the first [[parts]]; a part has a label"
}
_PART = (
    "label", "boards", "spares", "handed", "width", "widest", "thickness", "length", "ends", "groove",
    "end_A", "end_B", *_JOINT, *_SPACING,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Written:
    """A layout as it stands in its file."""

    layout: Layout
    root: Table
    parts: tuple[Table, ...]

    def where(self, problem: Problem) -> str:
        """`file, line 12: parts[1].half_pin` of the key to which a problem with the layout is due."""
        tables = [self.root] if problem.part is None else [self.parts[problem.part]]
        own = None if problem.end is None else tables[0].table(f"end_{problem.end}")
        if own is not None:
            tables.insert(0, own)
        for table in tables:
            for key in problem.keys:
                if table.has(key):
                    return table.where(key)
        return tables[-1].where()


class Mistaken(CoachError):  # noqa: N818 - it says of a layout what it is
    """A layout file with mistakes in it.

    Attributes:
        sound: the layout with only those parts that could be read, so that their limits can be told as well.
    """

    def __init__(self, problems: Iterable[str], sound: Written) -> None:
        super().__init__(*problems)
        self.sound = sound


def read_layout(path: Path) -> Written:
    """The layout in the file at `path`.

    Raises:
        Mistaken: with every mistake in how it is written.
        CoachError: it can't be read as TOML at all.
    """
    return _written(shown_path(path), read_source(path))


def parse_layout(name: str, text: str) -> Layout:
    """The layout that `text` describes; `name` stands before each message. CoachError with every mistake in it."""
    return _written(name, text).layout


def _written(name: str, text: str) -> Written:
    root = Table.parse(name, text)
    if not root.has("parts") and (root.has("fences") or root.has("jigs")):
        raise CoachError(f"{name}: this is a shop file; expected a layout, with --shop {name} to use this shop")
    root.known(_ROOT, dict.fromkeys(_PART, "in a [[parts]] table"))
    root.count("format", 1, 1)
    title = root.text("name")
    slope = root.slope("slope", required=False)
    tolerance = root.length("tolerance", required=False)
    species = root.text("species", required=False)
    tables = root.tables("parts")
    read = [(table, _part(table)) for table in tables]
    parts = {id(table): part for table, part in read if part is not None}
    seen: set[str] = set()
    for table, label in ((table, table.data.get("label")) for table in tables):
        if isinstance(label, str):
            if label.strip() in seen:
                table.wrong("label", f"{shown(label)} is the label of an earlier part; expected one of its own")
            seen.add(label.strip())
    total = sum(part.boards + part.spares for part in parts.values())
    if total > MOST_BOARDS:
        root.wrong("parts", f"{total} boards in all; expected at most {MOST_BOARDS}")
    layout = Layout(
        title or "",
        slope,
        None if tolerance is None else float(tolerance),
        species,
        tuple(parts.values()),
        _unit([table.data for table in tables]),
    )
    written = Written(layout, root, tuple(table for table in tables if id(table) in parts))
    if root.problems:
        raise Mistaken(root.problems, written)
    return written


def _unit(tables: list[dict[str, Any]]) -> Unit:
    """The unit in which most of a layout's widths, thicknesses and lengths are written."""
    found = [table.get(key) for table in tables for key in ("width", "thickness", "length")]
    texts = [text for text in found if isinstance(text, str)]
    metric = sum("m" in text.lower() for text in texts)  # as in mm, cm and metres; no inch or foot is written with it
    return "mm" if 2 * metric >= len(texts) else "in"


def _part(table: Table) -> Part | None:
    before = len(table.problems)
    table.known(_PART, _AT_THE_TOP)
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
        table.wrong(
            "widest", f"found {shown(table.data['widest'])}, less than the width; expected the widest board's own"
        )
    spacing = {key: table for key in _SPACING if table.has(key)}
    ends: dict[End, EndLayout] = {}
    for end in End:
        own = table.table(f"end_{end}")
        if own is not None:
            own.known((*_JOINT, *_SPACING), dict.fromkeys(_PART, f"to the part as a whole, above [parts.end_{end}]"))
        if which not in (end.value, "both", None):  # if it can't be read, both ends may be meant
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
        label,
        boards,
        spares,
        handed,
        float(width),
        float(widest or width),
        float(thickness),
        float(length),
        ends,
        groove,
    )


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
    lap = _lap(of("lap") if of("lap").has("lap") else of("joint"), of("joint"), own, kind)
    if lap is not None and mates is not None and lap >= mates:
        found = shown(of("lap").data["lap"])
        of("lap").wrong("lap", f"found {found}, no less than the pin board's thickness; expected less than mates_with")
    elif lap is not None and mates is not None and mates - lap + (allowance or 0) <= 0:
        found = shown(of("baseline").data["baseline"])
        of("baseline").wrong("baseline", f"found {found}, which takes away all of the tail; expected a small allowance")
    if own is not None and any(own.has(key) for key in _SPACING):
        spacing = {key: own for key in _SPACING if own.has(key)}
    else:
        spacing = shared
    marks = _marks(where if spacing is not shared else part, spacing, width, part)
    if len(part.problems) > before or kind is None or mates is None or lap is None or marks is None:
        return None
    return EndLayout(Joint(kind), float(mates), float(lap), float(allowance or 0), *marks)


def _lap(at: Table, joint: Table, own: Table | None, kind: str | None) -> Fraction | None:
    """The lap that stands in `at`, 0 for a through joint; None, and reported, if it is wrong."""
    if kind == Joint.HALF_BLIND:
        return at.length("lap", positive=True)
    if kind == Joint.THROUGH:
        for table in {id(table): table for table in (joint, own) if table is not None}.values():
            if table.has("lap"):
                table.wrong("lap", 'a through joint has no lap; leave it out or say joint = "half-blind"')
        return Fraction(0)
    return None


def _marks(where: Table, spacing: dict[str, Table], width: Fraction | None, part: Table) -> Marks | None:
    drawn = [key for key in ("top_marks", "bottom_marks") if key in spacing]
    widths = [key for key in ("tails", "proportions", "half_pin", "pin") if key in spacing]
    if drawn and widths:
        where.wrong(widths[0], f"stands beside {drawn[0]}: two spacings; expected one of them")
        return None
    if drawn:
        return _drawn_marks(where)
    if not widths:
        where.wrong(
            None,
            "no spacing; expected tails, half_pin and pin, or proportions, half_pin and pin, "
            "or top_marks and bottom_marks",
        )
        return None
    if "tails" in spacing and "proportions" in spacing:
        where.wrong("proportions", "stands beside tails: two spacings; expected one of them")
        return None
    shares: list[Fraction] | None
    if "proportions" in spacing:
        shares = _shares(where)
    else:
        tails = where.count("tails", 1, MOST_TAILS)
        shares = None if tails is None else [Fraction(1)] * tails
    single = shares is not None and len(shares) == 1
    for key in ("half_pin", "pin"):
        if where is not part and not where.has(key) and part.has(key) and not (single and key == "pin"):
            where.wrong(None, f'"{key}" is missing: a spacing given at an end replaces the part\'s whole spacing')
            return None
    half_pin = where.length("half_pin", positive=True)
    pin = where.length("pin", positive=True, required=not single)
    if single and pin is None and not where.has("pin"):
        pin = Fraction(0)
    if width is None or half_pin is None or pin is None or shares is None:
        return None
    taken = 2 * half_pin + (len(shares) - 1) * pin
    if taken >= width:
        unit = _unit([part.data])
        where.wrong(
            "proportions" if "proportions" in spacing else "tails",
            f"no wood is left for the tails: with {len(shares)} of them the sockets alone take "
            f"{show_length(float(taken), unit)} of the width, {show_length(float(width), unit)}; "
            "expected fewer tails or narrower sockets",
        )
        return None
    return proportioned(width, half_pin, pin, shares)


def _drawn_marks(where: Table) -> Marks | None:
    marks = [where.lengths(key) for key in ("top_marks", "bottom_marks")]
    for key, found in zip(("top_marks", "bottom_marks"), marks, strict=True):
        if found is None:
            continue
        if not 1 <= len(found) <= MOST_TAILS:
            where.wrong(key, f"found {len(found)} marks; expected from 1 to {MOST_TAILS}")
        if any(later <= earlier for earlier, later in pairwise(found)):
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
        where.wrong("proportions", f"found {shown(found)}; expected {expected}")
        return None
    shares = []
    for number, share in enumerate(found):
        if isinstance(share, bool) or not isinstance(share, int | float) or not 0.001 <= share <= 1000:
            where.wrong("proportions", f"found {shown(share)}; expected a number from 0.001 to 1000", number)
            return None
        shares.append(Fraction(str(share)))
    return shares
