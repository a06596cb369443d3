"""What is merely unwise about a layout, each with its reason and where the rule is from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from coach.joint.layout import EndLayout, Layout, Part
from coach.joint.limits import Show
from coach.words import Joint

INCH = 25.4
STEEP = math.atan(1 / 5)
WIDEST_TAIL_MM = 1.75 * INCH
MOST_TAIL_TO_SOCKET = 4.0
NARROWEST_SOCKET_MM = INCH / 16
STOP_BEARING_MM = 2.0
CLEAR_OF_BLADE_MM = 75.0
HAND_MM = 100.0
SPARE_FROM_BOARDS = 6

COMMON = "common practice"
GRIFFITH = "Griffith, Essentials of Woodworking, 1908, §100"
NOYES = "Noyes, Handwork in Wood, 1910, ch. VII no. 48"


@dataclass(frozen=True, slots=True)
class Advice:
    """Something to think over before cutting; `source` is where the rule is from."""

    where: str
    text: str
    source: str


def advice(layout: Layout, slope: float, kerf_mm: float, jig_thickness_mm: float, show: Show) -> list[Advice]:
    """What is unwise about `layout` cut on a jig of `slope` (radians) and thickness with a blade of `kerf_mm`."""
    found = []
    if slope > STEEP + 1e-9:
        found.append(
            Advice(
                "slope",
                f"1:{1 / math.tan(slope):.3g} is steeper than 1:5: the tails' corners are short grain and break off easily",
                COMMON,
            )
        )  # fmt: skip
    for part in layout.parts:
        found += _part_advice(part, jig_thickness_mm, show)
        for end, joint in part.ends.items():
            where = f'part "{part.label}", end {end}'
            for text, source in _end_advice(part, joint, slope, kerf_mm, show):
                found.append(Advice(where, text, source))
    return found


def _part_advice(part: Part, jig_thickness_mm: float, show: Show) -> Iterator[Advice]:
    where = f'part "{part.label}"'
    if jig_thickness_mm > part.thickness_mm + 1e-9:
        yield Advice(
            where,
            f"the jig is {show(jig_thickness_mm)} thick, the board only {show(part.thickness_mm)}: "
            "guide and guard can't come down to the board",
            COMMON,
        )
    for end, joint in part.ends.items():
        held = part.length_mm - joint.tail_length_mm
        if held < CLEAR_OF_BLADE_MM + HAND_MM:
            yield Advice(
                f"{where}, end {end}",
                f"only {show(held)} of board is left to hold: the hands come within {show(CLEAR_OF_BLADE_MM)} of the blade; "
                "cut the tails on a longer board, or hold it with a clamped block",
                COMMON,
            )  # fmt: skip
            break
    if part.boards >= SPARE_FROM_BOARDS and part.spares == 0:
        yield Advice(
            where,
            f"{part.boards} boards and no spare: one spoiled after the fence has moved on costs every setting again",
            COMMON,
        )


def _end_advice(part: Part, joint: EndLayout, slope: float, kerf_mm: float, show: Show) -> Iterator[tuple[str, str]]:
    sockets = joint.socket_widths_mm(part.width_mm)
    widening = joint.tail_length_mm * math.tan(slope)
    widths = joint.tail_widths_mm(part.width_mm)
    for tail, width in enumerate(widths, 1):
        if width > WIDEST_TAIL_MM + 1e-9:
            yield f"tail {tail} is {show(width)} wide at the end; wider than 1 3/4 in holds less well", NOYES
            break
    inner = sockets[1:-1]
    if inner:
        socket = min(inner) + 2 * widening
        tail_base = max(width - 2 * widening for width in widths)
        if tail_base > MOST_TAIL_TO_SOCKET * socket + 1e-9:
            yield (
                f"at the baseline the widest tail is {tail_base / socket:.1f} times the narrowest socket; "
                "more than four times leaves weak pins",
                NOYES,
            )
    narrow = [socket for socket in sockets if socket < NARROWEST_SOCKET_MM - 1e-9]
    if narrow:
        yield (
            f"a socket is {show(min(narrow))} wide at the end; pins are seldom narrower than 1/16 in",
            GRIFFITH,
        )
    for edge, marks in (("top", joint.top_marks_mm), ("bottom", joint.bottom_marks_mm)):
        reach = marks[0] * math.cos(slope) - kerf_mm
        if reach < STOP_BEARING_MM - 1e-9:
            yield (
                f"at the {edge} edge the stop has only {show(max(reach, 0))} of wood to bear on (half-pin socket "
                f"{show(marks[0])}, less the kerf); expected {show(STOP_BEARING_MM)} or more",
                COMMON,
            )
    if part.groove is not None:
        yield from _groove_advice(part, joint, slope)


def _groove_advice(part: Part, joint: EndLayout, slope: float) -> Iterator[tuple[str, str]]:
    assert part.groove is not None
    start = part.groove.from_bottom_mm
    stop = start + part.groove.width_mm
    inside = None
    for tail, (top, bottom) in enumerate(joint.tail_spans_mm(part.width_mm, joint.tail_length_mm, slope), 1):
        if part.width_mm - bottom <= start + 1e-9 and stop <= part.width_mm - top + 1e-9:
            inside = tail
    if inside is None:
        yield (
            "the groove doesn't fall within one tail: the pin board's groove would show in the end of a pin; "
            "shift it, move the tails, or stop it short",
            COMMON,
        )
    elif joint.joint is Joint.THROUGH:
        yield (
            f"the groove runs out through the end of tail {inside} and shows there, since the joint is a through one; "
            "stop it short, or plug the notch",
            COMMON,
        )
