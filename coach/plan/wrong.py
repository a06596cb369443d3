"""What a cut that went wrong means: harmless, to be mended, or the end of the board."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from coach.joint.layout import EndLayout
from coach.joint.limits import Show, end_problems
from coach.plan.geometry import kerf_span_mm, lie_for
from coach.plan.job import Pattern
from coach.plan.virtual_saw import shift_mm
from coach.plan.walker import Walker
from coach.words import Edge, End, Side

INCH_MM = 25.4
PLANED_FLUSH_MM = INCH_MM / 32
"""How much longer tails may be than their pin board is thick: Noyes, Handwork in Wood, 1910, ch. VII no. 48."""


class Mistake(StrEnum):
    """How a cut went wrong."""

    OFF_LINE = "off the line"
    WRONG_SIDE = "wrong side of the line"
    TOO_DEEP = "too deep"
    WRONG_EDGE = "wrong edge at the jig"
    WRONG_END = "wrong end leading"


class Verdict(StrEnum):
    """What comes of it."""

    WITHIN = "within tolerance"
    CUT_AGAIN = "cut again"
    COUNTS_AS = "counts as another cut"
    MENDABLE = "mendable"
    SPOILED = "spoiled"


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a wrong cut means.

    Attributes:
        lines: why, and what the sockets and tails become, for a person.
        joint: the end's layout with the marks that serve now; None unless mendable.
        counts_as: the side that was cut instead.
    """

    verdict: Verdict
    lines: tuple[str, ...]
    joint: EndLayout | None = None
    counts_as: Side | None = None


def judge(walker: Walker, side: Side, mistake: Mistake, off_mm: float, show: Show) -> Judgement:
    """What it means that `side` was cut wrong.

    Args:
        off_mm: off the line: how far, positive into the tail; too deep: how far past the baseline; else unused.
        show: how a length in mm is shown.
    """
    pattern = walker.job.pattern_of(side.board)
    match mistake:
        case Mistake.OFF_LINE:
            return _off_line(walker, pattern, side, off_mm + _rounding(walker, pattern, side), show)
        case Mistake.WRONG_SIDE:
            into = walker.job.shop.saw.kerf_mm / math.cos(walker.job.shop.jig.slope)
            return _off_line(walker, pattern, side, into + _rounding(walker, pattern, side), show)
        case Mistake.TOO_DEEP:
            return _too_deep(pattern, side, off_mm, show)
        case Mistake.WRONG_EDGE:
            return _elsewhere(walker, pattern, side, side.end, side.faces.other, show)
    return _elsewhere(walker, pattern, side, side.end.other, side.faces, show)


def _rounding(walker: Walker, pattern: Pattern, side: Side) -> float:
    """By how much the fence setting itself shifts the mark, into the tail."""
    key = (side.end, side.tail, side.faces)
    setting = walker.settings.serving(walker.job.board(side.board))[key]
    return shift_mm(walker.job, pattern, key, walker.settings.fence_mm[setting])


def _off_line(walker: Walker, pattern: Pattern, side: Side, off_mm: float, show: Show) -> Judgement:
    if abs(off_mm) <= pattern.tolerance_mm + 1e-9:
        text = f"{show(abs(off_mm))} off in all, within the {show(pattern.tolerance_mm)} that a mark may shift."
        return Judgement(Verdict.WITHIN, (text,))
    if off_mm < 0:
        text = f"The kerf stands {show(-off_mm)} out in the waste: the tail is whole."
        return Judgement(Verdict.CUT_AGAIN, (text, "Cut it again on its line, or pare to the line."))
    joint = pattern.ends[side.end]
    mended = moved(joint, side.tail, side.faces, off_mm)
    return _mended(walker, pattern, side, mended, show)


def moved(joint: EndLayout, tail: int, faces: Edge, by_mm: float) -> EndLayout:
    """The end with one side's mark moved; positive is into the tail."""
    if faces is Edge.TOP:
        marks = list(joint.top_marks_mm)
        marks[tail - 1] += by_mm
        return replace(joint, top_marks_mm=tuple(marks))
    marks = list(joint.bottom_marks_mm)
    marks[joint.tails - tail] += by_mm
    return replace(joint, bottom_marks_mm=tuple(marks))


def _mended(walker: Walker, pattern: Pattern, side: Side, mended: EndLayout, show: Show) -> Judgement:
    """Whether the board serves with the mark where it was cut, if need be with the tail's other side moved as well."""
    wrong = _impossible(walker, pattern, mended, show)
    across = replace(side, faces=side.faces.other)
    if wrong and across not in walker.done:
        mended, wrong = _with_other_side(walker, pattern, side, mended, show)
    if wrong:
        return Judgement(Verdict.SPOILED, (*wrong, "No mark that isn't cut yet could make up for it."))
    return Judgement(Verdict.MENDABLE, _becomes(pattern, side.end, mended, show), joint=mended)


def _with_other_side(
    walker: Walker, pattern: Pattern, side: Side, mended: EndLayout, show: Show
) -> tuple[EndLayout, list[str]]:
    """Moves the tail's other side, which isn't cut yet, out into its socket, as far as is needed and no further."""
    shop = walker.job.shop
    sockets = mended.socket_widths_mm(pattern.part.width_mm)
    across = sockets[side.tail if side.faces is Edge.TOP else side.tail - 1]
    room = across - shop.saw.kerf_mm / math.cos(shop.jig.slope)
    wrong = _impossible(walker, pattern, mended, show)
    for step in range(1, 21):
        tried = moved(mended, side.tail, side.faces.other, -room * step / 20)
        wrong = _impossible(walker, pattern, tried, show)
        if not wrong:
            return tried, wrong
    return mended, wrong


def _impossible(walker: Walker, pattern: Pattern, joint: EndLayout, show: Show) -> list[str]:
    shop = walker.job.shop
    return end_problems(pattern.part, joint, shop.jig.slope, shop.saw.kerf_mm, show)


def _becomes(pattern: Pattern, end: End, mended: EndLayout, show: Show) -> tuple[str, ...]:
    """What the tails and sockets of an end become, and whether its pins still match the others'."""
    width = pattern.part.width_mm
    joint = pattern.ends[end]
    lines = [
        f"tail {number}: {show(now)} wide at the end instead of {show(was)}"
        for number, (was, now) in enumerate(
            zip(joint.tail_widths_mm(width), mended.tail_widths_mm(width), strict=True), 1
        )
        if abs(now - was) > 1e-6
    ]
    changed = [
        (number, was, now)
        for number, (was, now) in enumerate(
            zip(joint.socket_widths_mm(width), mended.socket_widths_mm(width), strict=True), 1
        )
        if abs(now - was) > 1e-6
    ]
    lines += [f"socket {number}: {show(now)} at the end instead of {show(was)}" for number, was, now in changed]
    if any(abs(now - was) > pattern.tolerance_mm for _, was, now in changed):
        lines.append("Mark its pins from this board: pins cut in one gang with the others won't fit it.")
    else:
        lines.append("Pins cut in one gang with the others still fit it.")
    return tuple(lines)


def _too_deep(pattern: Pattern, side: Side, deep_mm: float, show: Show) -> Judgement:
    if deep_mm <= 0:
        return Judgement(Verdict.WITHIN, ("Not past the baseline: nothing is wrong.",))
    if deep_mm > PLANED_FLUSH_MM:
        return Judgement(
            Verdict.SPOILED,
            (
                f"The kerf runs {show(deep_mm)} past the baseline and would show; tails may be {show(PLANED_FLUSH_MM)} "
                "longer at most, to be planed flush.",
            ),
        )
    joint = pattern.ends[side.end]
    mended = replace(joint, baseline_mm=joint.baseline_mm + deep_mm)
    return Judgement(
        Verdict.MENDABLE,
        (
            f"Scribe this end's baseline {show(deep_mm)} further in and clear to it: its tails stand proud by as much "
            "and are planed flush.",
            "Pins cut in one gang with the others still fit it.",
        ),
        joint=mended,
    )


def _elsewhere(walker: Walker, pattern: Pattern, side: Side, end: End, faces: Edge, show: Show) -> Judgement:
    """The kerf is at the same distance from the jig, but from another edge or at another end than was meant."""
    if end not in pattern.ends:
        return Judgement(Verdict.SPOILED, (f"End {end} gets no tails, and now has a kerf.",))
    key = (side.end, side.tail, side.faces)
    fence = walker.settings.fence_mm[walker.settings.serving(walker.job.board(side.board))[key]]
    joint = pattern.ends[end]
    for tail in range(1, joint.tails + 1):
        other = Side(side.board, end, tail, faces)
        shift = shift_mm(walker.job, pattern, (end, tail, faces), fence)
        if abs(shift) <= pattern.tolerance_mm + 1e-9:
            done = (
                "which was cut already: nothing is lost."
                if other in walker.done
                else "which was to come: it is done now."
            )
            return Judgement(
                Verdict.COUNTS_AS, (f"That is end {end}, tail {tail}, {faces} side, {done}",), counts_as=other
            )
    bite = _bite(pattern, joint, walker, fence, end, faces)
    if bite is None:
        return Judgement(
            Verdict.CUT_AGAIN, ("The kerf lies in waste: no tail is touched. Cut this side as it was meant.",)
        )
    tail, taken = bite
    return Judgement(Verdict.SPOILED, (f"The kerf takes {show(taken)} out of tail {tail} at end {end}.",))


def _bite(
    pattern: Pattern, joint: EndLayout, walker: Walker, fence_mm: float, end: End, faces: Edge
) -> tuple[int, float] | None:
    """The tail that a kerf bites into, and how wide the bite is, or None."""
    shop = walker.job.shop
    width = pattern.part.width_mm
    lie = lie_for(shop.jig, end, faces)
    for at in (0.0, joint.tail_length_mm):
        near, far = kerf_span_mm(shop.jig, shop.saw.kerf_mm, fence_mm, at)
        span = (near, far) if lie.edge is Edge.TOP else (width - far, width - near)
        for tail, (start, stop) in enumerate(joint.tail_spans_mm(width, at, shop.jig.slope), 1):
            taken = min(span[1], stop) - max(span[0], start)
            if taken > pattern.tolerance_mm + 1e-9:
                return tail, taken
    return None
