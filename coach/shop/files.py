"""Reads a shop file."""

from __future__ import annotations

import math
from pathlib import Path

from coach.ground.clean import shown_path
from coach.ground.errors import CoachError
from coach.ground.lengths import parse_graduation
from coach.ground.terms import Hand
from coach.shop.aids import BLOCK_KEYS, HANDLING_KEYS, read_blocks, read_handling
from coach.shop.tools import Fence, Jig, Saw, Shop
from coach.toml.tables import Table, read_source, shown

_SAW = ("kerf", "column_side", "throat", "backing_out")
_FENCE = ("side", "min", "max", "front", "body", "scale", "zero")
_JIG = ("name", "slope", "leading_width", "leading_end", "length", "thickness", "stop_thickness")
_HANDS = [hand.value for hand in Hand]


def read_shop(path: Path, *, sample: bool = False) -> Shop:
    """The shop in the file at `path`; CoachError with every mistake in it."""
    return parse_shop(shown_path(path), read_source(path), sample=sample)


def parse_shop(name: str, text: str, *, sample: bool = False) -> Shop:
    """The shop that `text` describes; `name` stands before each message. CoachError with every mistake in it."""
    root = Table.parse(name, text)
    if root.has("parts") and not root.has("fences"):
        raise CoachError(f"{name}: this is a layout; expected a shop file, with [saw], [[fences]] and [[jigs]]")
    root.known(
        ("format", "saw", "fences", "jigs", "handling", "blocks"),
        dict.fromkeys(_SAW, "in [saw]")
        | dict.fromkeys(_FENCE, "in [[fences]]")
        | dict.fromkeys(BLOCK_KEYS, "in [[blocks]]")
        | dict.fromkeys(_JIG, "in [[jigs]]")
        | dict.fromkeys(HANDLING_KEYS, "in [handling]"),
    )
    root.count("format", 1, 1)
    saw_table = root.table("saw")
    if saw_table is None and not root.has("saw"):
        root.wrong(None, "[saw] is missing; expected it with kerf, column_side and throat")
    saw = None if saw_table is None else _saw(saw_table)
    fences = [_fence(table) for table in root.tables("fences")]
    jig_tables = root.tables("jigs")
    jigs = [_jig(table) for table in jig_tables]
    names: set[str] = set()
    for table, jig in zip(jig_tables, jigs, strict=True):
        if jig is not None and jig.name in names:
            table.wrong("name", f'"{jig.name}" is the name of an earlier jig; expected one of its own')
        elif jig is not None:
            names.add(jig.name)
    handling, blocks = read_handling(root.table("handling")), read_blocks(root)
    root.done()
    assert saw is not None
    return Shop(
        saw,
        tuple(fence for fence in fences if fence is not None),
        tuple(jig for jig in jigs if jig is not None),
        sample,
        handling,
        blocks,
    )


def _saw(table: Table) -> Saw | None:
    table.known(_SAW)
    kerf = table.length("kerf", positive=True)
    side = table.choice("column_side", _HANDS)
    throat = table.length("throat", positive=True)
    backing = table.choice("backing_out", ("stopped", "as trained"), required=False) or "stopped"
    if kerf is not None and kerf > 5:
        found = shown(table.data["kerf"])
        table.wrong("kerf", f"found {found}; expected the width of the slot that a bandsaw blade leaves, about 1 mm")
        return None
    if kerf is None or side is None or throat is None:
        return None
    return Saw(float(kerf), Hand(side), float(throat), backing)


def _fence(table: Table) -> Fence | None:
    table.known(_FENCE)
    before = len(table.problems)
    side = table.choice("side", _HANDS)
    least = table.length("min", required=False)
    most = table.length("max", positive=True)
    front = table.length("front", required=False)
    body = table.length("body", required=False)
    scale = table.parsed("scale", parse_graduation, 'a graduation such as "1/32 in" or "0.5 mm", or "none"')
    zero = table.length("zero", required=False, signed=True)
    if least is not None and most is not None and least >= most:
        found = shown(table.data["min"])
        table.wrong(
            "min", f"found {found}, no less than max; expected how near to the blade the fence's face can stand"
        )
    if len(table.problems) > before or side is None or most is None:
        return None
    return Fence(
        Hand(side),
        float(least or 0),
        float(most),
        float(front or 0),
        float(body or 0),
        scale,
        float(zero or 0),
    )


def _jig(table: Table) -> Jig | None:
    table.known(_JIG)
    name = table.text("name")
    slope = table.slope("slope")
    width = table.length("leading_width", positive=True)
    end = table.choice("leading_end", ("wide", "narrow"), required=False) or "wide"
    length = table.length("length", positive=True)
    thickness = table.length("thickness", positive=True)
    stop = table.length("stop_thickness", positive=True, required=False)
    if name is None or slope is None or width is None or length is None or thickness is None:
        return None
    if end == "wide" and float(length) * math.tan(slope) >= float(width):
        width_shown, length_shown = shown(table.data["leading_width"]), shown(table.data["length"])
        table.wrong(
            "leading_width",
            f"found {width_shown}, but over its length of {length_shown} the jig narrows by more than that at this "
            "slope and runs out to nothing; expected a wider leading end or a shorter jig",
        )
        return None
    stop_mm = None if stop is None else float(stop)
    return Jig(name, slope, float(width), end == "wide", float(length), float(thickness), stop_mm)
