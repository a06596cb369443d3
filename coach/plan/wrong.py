"""What a cut that went wrong means: harmless, to be mended, or the end of the board."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from coach.joint.layout import EndLayout
from coach.joint.limits import Show, end_problems
from coach.plan.changes import laid_out
from coach.plan.job import Job, Pattern
from coach.plan.kerf_in_tails import Bite, bite
from coach.plan.mistakes import Mistake, Verdict
from coach.plan.reach import best_fence_mm, shift_mm
from coach.plan.walker import Walker
from coach.words import Edge, End, Hand, Joint, Side

INCH_MM = 25.4
SAME_MM = 1e-6
PLANED_FLUSH_MM = INCH_MM / 32
"""How much longer tails may be than their pin board is thick: Noyes, Handwork in Wood, 1910, ch. VII no. 48."""


_OTHER_HAND = {Hand.LEFT: Hand.RIGHT, Hand.RIGHT: Hand.LEFT}


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a wrong cut means.

    Attributes:
        lines: why, and what the sockets and tails become, for a person.
        joint: the end's layout with the marks that serve now; None unless mendable.
        counts_as: the side that was cut instead.
        may_stay: whether the layout may stay as it is instead, since the fault only shows.
    """

    verdict: Verdict
    lines: tuple[str, ...]
    joint: EndLayout | None = None
    counts_as: Side | None = None
    may_stay: bool = False


def judge(
    walker: Walker, side: Side, mistake: Mistake, off_mm: float, show: Show, then: Walker | None = None
) -> Judgement:
    """What it means that `side` was cut wrong.

    A side that was mended before is judged as it was laid out: what is said now takes the place of what was said then.

    Args:
        off_mm: off the line: how far from the mark as it is drawn, positive into the tail; too deep: how far past the
            baseline; else unused. What follows from it goes by where the other boards are cut, which rounding to the
            scale may have shifted from the mark as drawn.
        show: how a length in mm is shown.
        then: the walk as it stood when the cut was made, with the blade, jig, fence and baseline of that time; as now
            if not given.
    """
    then = then or walker
    if mistake is Mistake.TOO_DEEP:
        return _too_deep(walker, side, off_mm, then, show)
    pattern = walker.job.pattern_of(side.board)
    meant = unmended(walker, side)
    if meant is not None:
        pattern = replace(pattern, ends={**pattern.ends, side.end: meant})
    key = (side.end, side.tail, side.faces)
    setting = then.settings.serving(then.job.board(side.board))[key]
    fence, cut_by = then.cuts_at_mm(setting), then.job_at(setting)
    match mistake:
        case Mistake.WRONG_EDGE:
            return _elsewhere(walker, pattern, side._replace(faces=side.faces.other), cut_by, fence, show)
        case Mistake.WRONG_END:
            return _elsewhere(walker, pattern, side._replace(end=side.end.other), cut_by, fence, show)
        case Mistake.WRONG_SIDE:
            off_mm = cut_by.shop.saw.kerf_mm / math.cos(cut_by.shop.jig.slope)
    return _off_line(walker, pattern, side, off_mm, cut_by, fence, show)


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


def _off_line(
    walker: Walker, pattern: Pattern, side: Side, off_mm: float, cut_by: Job, fence_mm: float, show: Show
) -> Judgement:
    """A kerf that is parallel to the one that was meant, `off_mm` from the mark as drawn, positive into the tail.

    Args:
        cut_by: the job with the shop that made the cut.
        fence_mm: where the fence was set, and so where the others are cut.
    """
    jig, tolerance_mm = cut_by.shop.jig, cut_by.tolerance_mm(pattern)
    key = (side.end, side.tail, side.faces)
    others_mm = shift_mm(cut_by, pattern, key, fence_mm)
    from_others = off_mm - others_mm
    if from_others < 0:
        stood_mm = best_fence_mm(cut_by, pattern, key) + off_mm * math.cos(jig.slope) * (1 if jig.wide_leads else -1)
        bitten = bite(pattern, cut_by, stood_mm, side.end, side.faces)
        if bitten is not None:
            return _bitten(bitten, side.end, show)
    rounded = show(abs(others_mm)) != show(0.0)
    if abs(from_others) <= tolerance_mm + 1e-9:
        than = f" from where the others are cut ({show(abs(others_mm))} off the line)" if rounded else ""
        text = f"{show(abs(from_others))} off{than}, within the {show(tolerance_mm)} that a mark may shift."
        return Judgement(Verdict.WITHIN, (text,))
    if from_others < 0:
        than = "further out in the waste than the others'" if rounded else "out in the waste"
        text = f"The kerf stands {show(-from_others)} {than}: the tail is whole."
        return Judgement(Verdict.CUT_AGAIN, (text, "Cut it again on its line, or pare to the line."))
    mended = moved(pattern.ends[side.end], side.tail, side.faces, off_mm)
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
    shop = walker.job.shop

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


def _too_deep(walker: Walker, side: Side, deep_mm: float, then: Walker, show: Show) -> Judgement:
    """A kerf that runs past the baseline as it was when the cut was made."""
    number = walker.job.board(side.board).pattern
    joint = walker.job.patterns[number].ends[side.end]
    meant = walker.job.patterns[laid_out(walker.job, number)].ends[side.end].tail_length_mm
    reached = then.job.pattern_of(side.board).ends[side.end].tail_length_mm + deep_mm
    more, past = reached - joint.tail_length_mm, reached - meant
    if more <= 1e-9:
        return Judgement(Verdict.WITHIN, ("Not past the baseline: nothing is wrong.",))
    if past > PLANED_FLUSH_MM + 1e-9:
        text = (
            f"The kerf runs {show(past)} past the baseline and would show; tails may be {show(PLANED_FLUSH_MM)} "
            "longer at most, to be planed flush."
        )
        return Judgement(Verdict.SPOILED, (text,))
    scribe = f"Scribe this end's baseline {show(more)} further in and clear to it"
    if joint.joint is Joint.HALF_BLIND and past >= joint.lap_mm:
        text = f"The kerf runs {show(past)} past the baseline, and the lap is only {show(joint.lap_mm)} thick."
        return Judgement(Verdict.SPOILED, (text,))
    hand = walker.job.pattern_of(side.board).hand
    mate = "the board across from it" if hand is None else f"the {_OTHER_HAND[hand]} across from it"
    shorter = (
        f"That makes it {show(past)} shorter between its shoulders than {mate}, and the piece goes out of square: "
        f"{mate} has to get the same baseline at its end there."
    )
    if joint.joint is Joint.HALF_BLIND:
        how: tuple[str, ...] = (
            f"{scribe}; chop the sockets of its pin board {show(past)} deeper, which leaves the lap "
            f"{show(joint.lap_mm - past)} thick.",
            shorter,
        )
    else:
        how = (
            f"{scribe}: its tails stand proud by {show(past)} and are planed flush.",
            shorter,
            "Pins cut in one gang with the others still fit it.",
        )
    slit = f"Or leave the baseline: the overcut stays as a slit in the corner, {show(past)} deep."
    return Judgement(
        Verdict.MENDABLE, (*how, slit), joint=replace(joint, baseline_mm=joint.baseline_mm + more), may_stay=True
    )


def _elsewhere(walker: Walker, pattern: Pattern, cut: Side, cut_by: Job, fence_mm: float, show: Show) -> Judgement:
    """The kerf is at the same distance from the jig, but from another edge or at another end than was meant.

    Args:
        cut: its board, and its end and the edge that its sides face.
        cut_by: the job with the shop that made the cut.
        fence_mm: where the fence stood.
    """
    end, faces = cut.end, cut.faces
    if end not in pattern.ends:
        return Judgement(Verdict.SPOILED, (f"End {end} gets no tails, and now has a kerf.",))
    shifts = {
        tail: abs(shift_mm(cut_by, pattern, (end, tail, faces), fence_mm))
        for tail in range(1, pattern.ends[end].tails + 1)
    }
    nearest = min(shifts, key=lambda tail: (shifts[tail], tail))
    meets = nearest if shifts[nearest] <= cut_by.tolerance_mm(pattern) + 1e-9 else None
    bitten = bite(pattern, cut_by, fence_mm, end, faces, meant=meets)
    if bitten is not None:
        return _bitten(bitten, end, show)
    if meets is not None:
        other = Side(cut.board, end, meets, faces)
        done = (
            "which was cut already: nothing is lost." if other in walker.done else "which was to come: it is done now."
        )
        return Judgement(
            Verdict.COUNTS_AS, (f"That is end {end}, tail {meets}, {faces} side, {done}",), counts_as=other
        )
    return Judgement(Verdict.CUT_AGAIN, ("The kerf lies in waste: no tail is touched. Cut this side as it was meant.",))


def _bitten(bitten: Bite, end: End, show: Show) -> Judgement:
    words = bitten.words(end, show)
    return Judgement(Verdict.SPOILED, (f"{words[0].upper()}{words[1:]}.",))
