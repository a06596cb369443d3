"""Reads the file of a family of drawers: their widths, and within which ranges their tails and pins may be chosen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from coach.ground.clean import shown_path
from coach.ground.lengths import Unit
from coach.ground.terms import Joint
from coach.joint.layout import MOST_BOARDS
from coach.toml.tables import Table, read_source, shown

MOST_DRAWERS = 50
LONGEST_TEXT = 40  # of a width that stands in a label
_COPIED = ("thickness", "length", "joint", "mates_with", "lap", "baseline")
_ROOT = (
    "format", "name", "slope", "widths", "drawers", "boards", "spares", "half_pin", "tail", "pin", "ratio", *_COPIED,
)  # fmt: skip
_DRAWER = ("label", "width", "boards")
_RANGES = {"half_pin": '["4 mm", "7 mm"]', "tail": '["18 mm", "32 mm"]', "pin": '["3 mm", "6 mm"]'}

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawer:
    """A drawer of the family; lengths in mm.

    Attributes:
        width_text: its width as the file has it.
        key: where it stands in the file: "widths" or "drawers", and which of them, from 0.
    """

    label: str
    width_mm: float
    width_text: str
    boards: int
    key: tuple[str, int]


@dataclass(frozen=True, slots=True)
class Family:
    """Drawers whose sides are to share their fence settings; lengths in mm, slopes in radians.

    Attributes:
        half_pin_mm, pin_mm, tail_mm: from and to, at the tail board's end; a half-pin socket of one width has it twice.
        ratio: of the widest to the narrowest tail on one board, at most; None for any.
        copied: keys that every drawer's layout has as they stand in the family's file.
    """

    name: str
    slope: float | None
    drawers: tuple[Drawer, ...]
    spares: int
    half_pin_mm: Range
    tail_mm: Range
    pin_mm: Range
    ratio: Fraction | None
    tail_length_mm: float
    copied: Mapping[str, str]
    unit: Unit
    root: Table

    def where(self, drawer: Drawer) -> str:
        """`file, line 4: widths[2]` of a drawer."""
        return self.root.where(*drawer.key)


def read_family(path: Path) -> Family:
    """The family in the file at `path`; CoachError with every mistake in it."""
    return parse_family(shown_path(path), read_source(path))


def parse_family(name: str, text: str) -> Family:
    """The family that `text` describes; `name` stands before each message. CoachError with every mistake in it."""
    root = Table.parse(name, text)
    if root.has("parts"):
        root.wrong("parts", "this is a layout; expected a family of drawers, with widths or [[drawers]]")
        root.done()
    root.known(_ROOT, {"label": "in a [[drawers]] table", "width": "in a [[drawers]] table"})
    root.count("format", 1, 1)
    title = root.text("name")
    slope = root.slope("slope", required=False)
    boards = root.count("boards", 1, MOST_BOARDS, default=2)
    spares = root.count("spares", 0, MOST_BOARDS, default=0)
    ranges = {key: _range(root, key, such) for key, such in _RANGES.items()}
    ratio = _ratio(root)
    for key in ("thickness", "length"):
        root.length(key, positive=True)
    tail_length = _tail_length(root)
    drawers = _drawers(root, boards or 1)
    total = sum(drawer.boards + (spares or 0) for drawer in drawers)
    if total > MOST_BOARDS:
        root.wrong(None, f"{total} boards in all; expected at most {MOST_BOARDS}")
    root.done()
    assert title is not None and spares is not None and tail_length is not None
    half_pin, tail, pin = ranges["half_pin"], ranges["tail"], ranges["pin"]
    assert half_pin is not None and tail is not None and pin is not None
    texts = [drawer.width_text.lower() for drawer in drawers]
    metric = sum("m" in text for text in texts)  # as in mm, cm and metres; no inch or foot is written with it
    return Family(
        title,
        slope,
        tuple(drawers),
        spares,
        half_pin,
        tail,
        pin,
        ratio,
        float(tail_length),
        {key: root.data[key] for key in _COPIED if root.has(key)},
        "mm" if 2 * metric >= len(texts) else "in",
        root,
    )


def _range(root: Table, key: str, such: str) -> Range | None:
    if key == "half_pin" and not isinstance(root.data.get(key), list):
        single = root.length(key, positive=True)
        return None if single is None else (float(single), float(single))
    found = root.lengths(key)
    if found is None:
        return None
    if len(found) != 2:
        root.wrong(key, f"found {len(found)} lengths; expected two, from and to, such as {such}")
        return None
    low, high = found
    if low > high:
        said = " to ".join(shown(item) for item in root.data[key])
        root.wrong(key, f"nothing lies in the range from {said}; expected the smaller first, such as {such}")
        return None
    if high == 0:
        root.wrong(key, f"found a range up to 0; expected one such as {such}")
        return None
    return float(low), float(high)


def _ratio(root: Table) -> Fraction | None:
    if not root.has("ratio"):
        return None
    found = root.data["ratio"]
    if isinstance(found, bool) or not isinstance(found, int | float) or not 1 <= found <= 100:
        root.wrong("ratio", f"found {shown(found)}; expected a number from 1 to 100, such as 1.5")
        return None
    return Fraction(str(found)).limit_denominator(1000)


def _tail_length(root: Table) -> Fraction | None:
    """From the end to the baseline: the pin board's thickness, less the lap, plus the allowance."""
    kind = root.choice("joint", [joint.value for joint in Joint])
    mates = root.length("mates_with", positive=True)
    allowance = root.length("baseline", required=False, signed=True) or Fraction(0)
    lap: Fraction | None = Fraction(0)
    if kind == Joint.HALF_BLIND:
        lap = root.length("lap", positive=True)
    elif root.has("lap"):
        root.wrong("lap", 'a through joint has no lap; leave it out or say joint = "half-blind"')
    if mates is None or lap is None:
        return None
    if mates - lap + allowance <= 0:
        root.wrong("mates_with", "no tail is left once lap and baseline are taken off; expected a thicker pin board")
        return None
    return mates - lap + allowance


def _drawers(root: Table, boards: int) -> list[Drawer]:
    if root.has("widths") == root.has("drawers"):
        which = "both are there" if root.has("widths") else "neither is there"
        root.wrong(None, f'widths or [[drawers]]: {which}; expected one, such as widths = ["57 mm", "76 mm"]')
        return []
    drawers = _from_widths(root, boards) if root.has("widths") else _from_tables(root, boards)
    key = drawers[0].key[0] if drawers else "widths"
    if len(drawers) > MOST_DRAWERS:
        root.wrong(key, f"found {len(drawers)} drawers; expected at most {MOST_DRAWERS}")
    return drawers


def _from_widths(root: Table, boards: int) -> list[Drawer]:
    found = root.lengths("widths")
    texts: list[Any] = root.data["widths"]
    if found is None:
        return []
    if not found:
        root.wrong("widths", 'found none; expected widths such as ["57 mm", "76 mm"]')
    drawers = []
    for number, (width, text) in enumerate(zip(found, texts, strict=True)):
        if width == 0:
            root.wrong("widths", f"found {shown(text)}; expected a width above zero", number)
        if width in found[:number]:
            why = f"{shown(text)} is there twice; expected each width once: boards says how many are cut of each"
            root.wrong("widths", why, number)
        tidy = " ".join(text.split())
        label = f"side {tidy if len(tidy) <= LONGEST_TEXT else f'{float(width):.2f} mm'}"
        drawers.append(Drawer(label, float(width), tidy, boards, ("widths", number)))
    return drawers


def _from_tables(root: Table, boards: int) -> list[Drawer]:
    drawers: list[Drawer] = []
    for number, table in enumerate(root.tables("drawers")):
        table.known(_DRAWER, dict.fromkeys(_ROOT, "at the top of the file, before the first [[drawers]]"))
        label = table.text("label")
        width = table.length("width", positive=True)
        count = table.count("boards", 1, MOST_BOARDS, default=boards)
        if label is None or width is None or count is None:
            continue
        if label in (drawer.label for drawer in drawers):
            table.wrong("label", f"{shown(label)} is the label of an earlier drawer; expected one of its own")
        drawers.append(Drawer(label, float(width), table.data["width"], count, ("drawers", number)))
    return drawers
