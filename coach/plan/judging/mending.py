"""Mending a board of which a cut went into a tail: its marks moved to where the kerf is, and back."""

from __future__ import annotations

import math
from dataclasses import replace

from coach.ground.terms import Edge, End, Side
from coach.joint.layout import EndLayout
from coach.joint.limits import Show, end_problems
from coach.plan.job import Pattern, laid_out
from coach.plan.judging.mistakes import Judgement, Verdict
from coach.plan.reach import shift_mm
from coach.plan.walking.walker import Walker

SAME_MM = 1e-6


def with_end(pattern: Pattern, end: End, joint: EndLayout | None) -> Pattern:
    """A board's layout with another end, if there is one."""
    return pattern if joint is None else replace(pattern, ends={**pattern.ends, end: joint})


def unmended(walker: Walker, side: Side) -> EndLayout | None:
    """The end with this side's mark as it was laid out, or None if it is so.

    The tail's other side goes back with it unless it is cut: it was moved to make up for this one.
    """
    number = walker.job.board(side.board).pattern
    now = walker.job.patterns[number].ends[side.end]
    first = walker.job.patterns[laid_out(walker.job, number)].ends[side.end]
    back = first.mark_mm(side.tail, side.faces) - now.mark_mm(side.tail, side.faces)
    if abs(back) < 1e-9:
        return None
    joint = moved(now, side.tail, side.faces, back)
    across = side._replace(faces=side.faces.other)
    if across not in walker.done:
        by = first.mark_mm(side.tail, across.faces) - now.mark_mm(side.tail, across.faces)
        joint = moved(joint, side.tail, across.faces, by)
    return joint


def moved(joint: EndLayout, tail: int, faces: Edge, by_mm: float) -> EndLayout:
    """The end with one side's mark moved; positive is into the tail."""
    if faces is Edge.TOP:
        marks = list(joint.top_marks_mm)
        marks[tail - 1] += by_mm
        return replace(joint, top_marks_mm=tuple(marks))
    marks = list(joint.bottom_marks_mm)
    marks[joint.tails - tail] += by_mm
    return replace(joint, bottom_marks_mm=tuple(marks))


def mark_where_cut(walker: Walker, pattern: Pattern, side: Side, off_mm: float, show: Show) -> Judgement:
    """Whether the board serves with the mark where it was cut, if need be with the tail's other side moved as well."""
    shop = walker.job.shop
    mended = moved(pattern.ends[side.end], side.tail, side.faces, off_mm)

    def impossible(joint: EndLayout) -> list[str]:
        return end_problems(pattern.part, joint, shop.jig.slope, shop.saw.kerf_mm, show)

    known = impossible(pattern.ends[side.end])  # such as a socket, long cut, that a new blade wouldn't fit
    wrong = [problem for problem in impossible(mended) if problem not in known]
    if not wrong:
        return Judgement(Verdict.MENDABLE, _becomes(walker, side, mended, show), joint=mended)
    across = side._replace(faces=side.faces.other)
    if across not in walker.done:
        socket = mended.socket_widths_mm(pattern.part.width_mm)[side.tail if side.faces is Edge.TOP else side.tail - 1]
        room = socket - shop.saw.kerf_mm / math.cos(shop.jig.slope)
        for step in range(1, 21):  # as far as is needed and no further
            tried = moved(mended, side.tail, across.faces, -room * step / 20)
            if not impossible(tried):
                return Judgement(Verdict.MENDABLE, _becomes(walker, side, tried, show), joint=tried)
    return Judgement(Verdict.SPOILED, (*wrong, "No mark that isn't cut yet could make up for it."))


def _becomes(walker: Walker, side: Side, mended: EndLayout, show: Show) -> tuple[str, ...]:
    """What the tails and sockets of an end become against the other boards' as they are cut, and whether pins that fit
    those fit it."""
    board = walker.job.board(side.board)
    number = laid_out(walker.job, board.pattern)
    pattern = walker.job.patterns[number]
    width, drawn = pattern.part.width_mm, pattern.ends[side.end]
    others = now = drawn
    for tail in range(1, drawn.tails + 1):
        for faces in Edge:
            key = (side.end, tail, faces)
            setting = walker.settings.serves[number][key]
            shift = shift_mm(walker.job_at(setting), pattern, key, walker.cuts_at_mm(setting))
            others = moved(others, tail, faces, shift)
            own = mended.mark_mm(tail, faces) - drawn.mark_mm(tail, faces)
            now = moved(now, tail, faces, own if abs(own) > SAME_MM else shift)
    tails = _changed(others.tail_widths_mm(width), now.tail_widths_mm(width))
    sockets = _changed(others.socket_widths_mm(width), now.socket_widths_mm(width))
    lines = [f"tail {tail}: {show(now)} wide at the end instead of {show(was)}" for tail, was, now in tails]
    lines += [f"socket {socket}: {show(now)} at the end instead of {show(was)}" for socket, was, now in sockets]
    tolerance_mm = walker.job.tolerance_mm(pattern)
    if any(abs(now - was) > tolerance_mm for _, was, now in sockets):
        lines.append("Mark its pins from this board: pins cut in one gang with the others won't fit it.")
    else:
        lines.append("Pins cut in one gang with the others still fit it.")
    return tuple(lines)


def _changed(before: list[float], after: list[float]) -> list[tuple[int, float, float]]:
    """Which of the widths differ, counted from 1."""
    pairs = enumerate(zip(before, after, strict=True), 1)
    return [(number, was, now) for number, (was, now) in pairs if abs(now - was) > SAME_MM]
