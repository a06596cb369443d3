"""What wood and blade don't allow: layouts that can't be cut or that couldn't hold."""

from __future__ import annotations

import math
from collections.abc import Callable

from coach.joint.layout import EndLayout, Layout, Part

Show = Callable[[float], str]
NEAR_SLOPES = math.radians(0.1)
NARROWEST_BASE = 1 / 3  # of a tail's width at the end


def problems(layout: Layout, slope: float, kerf_mm: float, show: Show) -> list[str]:
    """Everything about `layout` that is impossible with a jig of `slope` (radians) and a blade of `kerf_mm`.

    Args:
        show: how a length in mm is shown.
    """
    found = []
    if layout.slope is not None and abs(layout.slope - slope) > NEAR_SLOPES:
        found.append(
            f"slope: the layout is drawn for {_degrees(layout.slope)}, the jig has {_degrees(slope)}; "
            "expected them within 0.1°: use another jig, or draw the layout for this one"
        )
    for part in layout.parts:
        for end, joint in part.ends.items():
            where = f'part "{part.label}", end {end}'
            found += [f"{where}: {what}" for what in _end_problems(part, joint, slope, kerf_mm, show)]
        longest = sum(joint.tail_length_mm for joint in part.ends.values())
        if longest >= part.length_mm:
            found.append(
                f'part "{part.label}": length: {show(part.length_mm)} is all taken by the tails '
                f"({show(longest)}); expected a longer board"
            )
        if layout.tolerance_mm is not None:
            found += _tolerance_problems(layout.tolerance_mm, part, slope, show)
    return found


def _degrees(slope: float) -> str:
    return f"{math.degrees(slope):.2f}°"


def _tolerance_problems(tolerance_mm: float, part: Part, slope: float, show: Show) -> list[str]:
    narrowest = min(
        (min(joint.tail_widths_mm(part.width_mm, joint.tail_length_mm, slope)) for joint in part.ends.values()),
        default=0.0,
    )
    if narrowest > 0 and tolerance_mm > narrowest / 4:
        return [
            f'tolerance: {show(tolerance_mm)} is more than a quarter of the narrowest tail of part "{part.label}" '
            f"at the baseline ({show(narrowest)}); expected a small fraction of it"
        ]
    return []


def _end_problems(part: Part, joint: EndLayout, slope: float, kerf_mm: float, show: Show) -> list[str]:
    width = part.width_mm
    beyond = [
        f"mark {show(mark)} from the {edge} edge is beyond the board, which is {show(width)} wide"
        for edge, marks in (("top", joint.top_marks_mm), ("bottom", joint.bottom_marks_mm))
        for mark in marks
        if mark >= width
    ]
    if beyond:
        return beyond
    found = []
    widths = joint.tail_widths_mm(width)
    bases = joint.tail_widths_mm(width, joint.tail_length_mm, slope)
    if widths[0] <= 0 and max(widths) <= 0:
        return [f"no wood is left for the tails: {len(widths)} tails and their sockets need more than {show(width)}"]
    for tail, (wide, base) in enumerate(zip(widths, bases, strict=True), 1):
        if wide <= 0:
            found.append(f"tail {tail} has no width: its two marks meet or cross by {show(-wide)}")
        elif base < wide * NARROWEST_BASE:
            found.append(
                f"tail {tail} is {show(wide)} wide at the end but {show(max(base, 0))} at the baseline "
                f"({show(joint.tail_length_mm)} in); expected at least a third of it: fewer or wider tails"
            )
    found += socket_problems(joint, joint.socket_widths_mm(width), slope, kerf_mm, show, "")
    if not found and part.widest_mm > width:
        found += socket_problems(
            joint, _on_wider_board(joint, part), slope, kerf_mm, show, f" on the widest board ({show(part.widest_mm)})"
        )  # fmt: skip
    return found


def _on_wider_board(joint: EndLayout, part: Part) -> list[float]:
    """Sockets when both edges bear on the jig in turn: a board too wide by e has inner sockets narrower by e."""
    widths = joint.socket_widths_mm(part.width_mm)
    excess = part.widest_mm - part.width_mm
    return [widths[0], *(width - excess for width in widths[1:-1]), widths[-1]]


def socket_problems(
    joint: EndLayout, widths_mm: list[float], slope: float, kerf_mm: float, show: Show, when: str
) -> list[str]:
    """Sockets that the blade doesn't fit into; `when` says of which board or state the widths are.

    At the slope, the kerf takes kerf/cos(slope) along the end. A half-pin socket narrower than that has the blade run
    out through the edge into the jig.
    """
    needed = kerf_mm / math.cos(slope)
    found = []
    for number, width in enumerate(widths_mm):
        if width >= needed - 1e-9:
            continue
        if 0 < number < joint.tails:
            which = f"the socket between tails {number} and {number + 1}"
            if width <= 0:
                found.append(f"tails {number} and {number + 1} overlap or touch ({show(-width)}){when}")
                continue
            why = "the blade doesn't fit"
        else:
            which = f"the half-pin socket at the {'top' if number == 0 else 'bottom'} edge"
            why = "the blade would saw the jig"
        found.append(
            f"{which} is {show(width)} wide at the end{when}; {why}: expected at least {show(needed)} "
            f"(kerf {show(kerf_mm)} over the cosine of the slope)"
        )
    return found
