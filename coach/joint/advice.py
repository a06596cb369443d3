"""What is merely unwise about a layout, each with its reason and where the rule is from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from coach.ground.lengths import show_slope
from coach.ground.terms import Joint
from coach.joint.layout import EndLayout, Layout, Part
from coach.joint.limits import Show

INCH = 25.4
STEEP = math.atan(1 / 5)
WIDEST_TAIL_MM = 1.75 * INCH
MOST_TAIL_TO_SOCKET = 4.0
NARROWEST_SOCKET_MM = INCH / 16
MOST_ALLOWANCE_MM = INCH / 32
STOP_BEARING_MM = 2.0
CLEAR_OF_BLADE_MM = 75.0
HAND_MM = 100.0
SPARE_FROM_BOARDS = 6
GRIP_MM = 25.0

COMMON = "common practice"
FAIRHAM = "Fairham, Woodwork Joints, The Dovetail Joint: a trifle less, for drawers"
GRIFFITH = "Griffith, Essentials of Woodworking, 1908, §100"
NOYES = "Noyes, Handwork in Wood, 1910, ch. VII no. 48"


@dataclass(frozen=True, slots=True)
class Advice:
    """Something to think over before cutting; `source` is where the rule is from."""

    where: str
    text: str
    source: str


def jig_advice(
    length_mm: float,
    leading_width_mm: float,
    thickness_mm: float,
    stop_thickness_mm: float | None,
    slope: float,
    show: Show,
    *,
    wide_leads: bool,
) -> list[Advice]:
    """What is unwise about a jig, whatever is cut with it.

    A jig whose wide end leads narrows by its length times the tangent of its slope to the end where it is held.
    """
    found = []
    trailing_mm = leading_width_mm - length_mm * math.tan(slope)
    if wide_leads and trailing_mm < GRIP_MM - 1e-9:
        found.append(
            Advice(
                "jig",
                f"it is only {show(max(0.0, trailing_mm))} wide at the trailing end, where it is held: nothing to hold "
                f"there keeps the hand clear of the blade; expected {show(GRIP_MM)} or more, by a wider or shorter jig",
                COMMON,
            )
        )
    if stop_thickness_mm is not None and stop_thickness_mm > thickness_mm + 1e-9:
        found.append(
            Advice(
                "jig",
                f"its stop is {show(stop_thickness_mm)} thick, the wedge only {show(thickness_mm)}: guide and guard "
                "have to clear the stop, and leave more of the blade bare",
                COMMON,
            )
        )
    return found


def advice(
    layout: Layout, slope: float, kerf_mm: float, jig_thickness_mm: float, show: Show, *, wide_leads: bool = True
) -> list[Advice]:
    """What is unwise about `layout` cut on a jig of `slope` (radians) and thickness with a blade of `kerf_mm`.

    Args:
        show: how a length in mm is shown.
        wide_leads: whether the jig's wide end leads, so that the stop bears on the waste of a half-pin socket.
    """
    found = []
    if slope > STEEP + 1e-9:
        found.append(
            Advice(
                "slope",
                f"{show_slope(slope)} is steeper than 1:5: the tails' corners are short grain and break off easily",
                COMMON,
            )
        )
    for part in layout.parts:
        found += _part_advice(part, jig_thickness_mm, show)
        said: dict[tuple[str, str], list[str]] = {}
        for end, joint in part.ends.items():
            for note in _end_advice(part, joint, slope, kerf_mm, show, wide_leads=wide_leads):
                said.setdefault(note, []).append(f"end {end}")
        for (text, source), ends in said.items():
            found.append(Advice(f'part "{part.label}", {" and ".join(ends)}', text, source))
    return found


def _part_advice(part: Part, jig_thickness_mm: float, show: Show) -> Iterator[Advice]:
    where = f'part "{part.label}"'
    if jig_thickness_mm > part.thickness_mm + 1e-9:
        yield Advice(
            where,
            f"the jig is {show(jig_thickness_mm)} thick, the board only {show(part.thickness_mm)}: "
            "the blade's guide and guard can't come down to the board",
            COMMON,
        )
    for end, joint in part.ends.items():
        held = part.length_mm - joint.tail_length_mm
        if held < CLEAR_OF_BLADE_MM + HAND_MM:
            yield Advice(
                f"{where}, end {end}",
                f"only {show(held)} of the board is left to hold: hands would come within {show(CLEAR_OF_BLADE_MM)} "
                "of the blade; cut the tails on a longer board, or clamp a block to it and hold that",
                COMMON,
            )
            break
    if part.handed and part.boards % 2:
        yield Advice(
            where,
            f"{part.boards} boards in lefts and rights: one of them has no mate; expected an even number",
            COMMON,
        )
    if part.handed and part.spares % 2:
        yield Advice(
            where,
            f"{part.spares} spare{'' if part.spares == 1 else 's'} in lefts and rights: one hand has one more than the "
            "other; a spare of the other hand serves only until it is grooved, its faces lettered anew",
            COMMON,
        )
    if part.boards >= SPARE_FROM_BOARDS and part.spares == 0:
        yield Advice(
            where,
            f"{part.boards} boards and no spare: one spoiled after the fence has moved on costs every setting again",
            COMMON,
        )


def _end_advice(
    part: Part, joint: EndLayout, slope: float, kerf_mm: float, show: Show, *, wide_leads: bool
) -> Iterator[tuple[str, str]]:
    sockets = joint.socket_widths_mm(part.width_mm)
    widening = joint.tail_length_mm * math.tan(slope)
    widths = joint.tail_widths_mm(part.width_mm)
    if abs(joint.baseline_mm) > MOST_ALLOWANCE_MM + 1e-9:
        allowance = show(abs(joint.baseline_mm))
        does, source = (
            (f"adds {allowance} to", NOYES) if joint.baseline_mm > 0 else (f"takes {allowance} from", FAIRHAM)
        )
        yield (
            f"baseline {does} the tail length, which comes to {show(joint.tail_length_mm)}; it is an allowance, seldom "
            "more than 1/32 in",
            source,
        )
    if joint.joint is Joint.HALF_BLIND and joint.baseline_mm > 1e-9:
        yield (
            f"baseline adds {show(joint.baseline_mm)} to tails that end at a lap: they meet it before the shoulder "
            "closes, which stays open by so much; expected no allowance, or one below 0, at a half-blind end",
            COMMON,
        )
    if max(widths) > WIDEST_TAIL_MM + 1e-9:
        tail = widths.index(max(widths)) + 1
        yield f"tail {tail} is {show(max(widths))} wide at the end; tails are best no wider than 1 3/4 in", NOYES
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
            f"the narrowest socket is {show(min(narrow))} wide at the end; pins are seldom narrower than 1/16 in",
            GRIFFITH,
        )
    # Where the narrow end leads, a whole tail lies between the stop and the kerf.
    if wide_leads:
        yield from _stop_advice(joint, slope, kerf_mm, show)
    if part.groove is not None:
        yield from _groove_advice(part, joint, slope)


def _stop_advice(joint: EndLayout, slope: float, kerf_mm: float, show: Show) -> Iterator[tuple[str, str]]:
    bearing: dict[float, list[str]] = {}
    for edge, marks in (("top", joint.top_marks_mm), ("bottom", joint.bottom_marks_mm)):
        if marks[0] * math.cos(slope) - kerf_mm < STOP_BEARING_MM - 1e-9:
            bearing.setdefault(marks[0], []).append(edge)
    for mark, edges in bearing.items():
        which = "either edge" if len(edges) == 2 else f"the {edges[0]} edge"
        yield (
            f"at {which} the jig's stop has only {show(max(mark * math.cos(slope) - kerf_mm, 0))} of wood to bear on "
            f"(the half-pin socket of {show(mark)}, less the kerf); expected {show(STOP_BEARING_MM)} or more",
            COMMON,
        )


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
