"""What a cut that went wrong means: harmless, to be mended, or the end of the board."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from coach.ground.terms import End, Hand, Joint, Side
from coach.joint.limits import Show
from coach.plan.job import Job, Pattern, laid_out
from coach.plan.judging.kerf_in_tails import Bite, bite, tail_met
from coach.plan.judging.mending import mark_where_cut, unmended, with_end
from coach.plan.judging.mistakes import Judgement, Mistake, Verdict
from coach.plan.judging.stray_kerfs import StrayKerf, bite_of_any, off_line_mm, rig_and_fence, stood_mm, stray_kerf
from coach.plan.reach import shift_mm
from coach.plan.walking.walker import Walker

INCH_MM = 25.4
PLANED_FLUSH_MM = INCH_MM / 32
"""How much longer tails may be than their pin board is thick: Noyes, Handwork in Wood, 1910, ch. VII no. 48."""


_OTHER_HAND = {Hand.LEFT: Hand.RIGHT, Hand.RIGHT: Hand.LEFT}


def judge(
    walker: Walker,
    side: Side,
    mistake: Mistake,
    off_mm: float,
    show: Show,
    then: Walker | None = None,
    strays: Sequence[StrayKerf] = (),
) -> Judgement:
    """What it means that `side` was cut wrong.

    A side that was mended before is judged as it was laid out: what is said now takes the place of what was said then,
    and its mark goes back with it, unless an earlier kerf stands in the wood that its tail would get back.

    Args:
        off_mm: off the line: how far from the mark as it is drawn, positive into the tail; too deep: how far past the
            baseline; else unused. What follows from it goes by where the other boards are cut, which rounding to the
            scale may have shifted from the mark as drawn.
        show: how a length in mm is shown.
        then: the walk as it stood when the cut was made, with the blade, jig, fence and baseline of that time; as now
            if not given.
        strays: the kerfs in the board that stand for none of its sides, without the one that is judged.
    """
    then = then or walker
    if mistake is Mistake.TOO_DEEP:
        return _too_deep(walker, side, off_mm, then, show)
    meant = unmended(walker, side)
    pattern = with_end(walker.job.pattern_of(side.board), side.end, meant)
    cut_by, fence = rig_and_fence(then, side)
    match mistake:
        case Mistake.WRONG_EDGE:
            found = _elsewhere(walker, pattern, side._replace(faces=side.faces.other), cut_by, fence, show)
        case Mistake.WRONG_END:
            found = _elsewhere(walker, pattern, side._replace(end=side.end.other), cut_by, fence, show)
        case _:
            off_mm = off_line_mm(cut_by, mistake, off_mm)
            found = _off_line(walker, pattern, side, off_mm, cut_by, fence, show)
    if found.verdict is Verdict.SPOILED:
        return found
    if found.joint is None:
        found = replace(found, joint=meant)
    if found.verdict in (Verdict.CUT_AGAIN, Verdict.COUNTS_AS):
        strays = (*strays, stray_kerf(then, side, mistake, off_mm))
    return _beside(walker, side, found, strays, show)


def _beside(walker: Walker, side: Side, found: Judgement, strays: Sequence[StrayKerf], show: Show) -> Judgement:
    """What a cut means on a board that has stray kerfs.

    Where the end's marks change, its tails may get back wood in which such a kerf stands. A side that is still to be
    cut then keeps its mark where it was mended to; one that is cut can't.
    """
    if found.joint is None:
        return found
    pattern = walker.job.pattern_of(side.board)
    bitten = bite_of_any(strays, with_end(pattern, side.end, found.joint), side.end)
    if bitten is None:
        return found
    again = found.verdict in (Verdict.CUT_AGAIN, Verdict.COUNTS_AS)
    if not again or bite_of_any(strays, pattern, side.end) is not None:
        return _bitten(bitten, side.end, show)
    keeps = "Its mark stays where it was mended to: another kerf stands in the wood beside it."
    return replace(found, lines=(*found.lines, keeps), joint=None)


def _off_line(
    walker: Walker, pattern: Pattern, side: Side, off_mm: float, cut_by: Job, fence_mm: float, show: Show
) -> Judgement:
    """A kerf that is parallel to the one that was meant, `off_mm` from the mark as drawn, positive into the tail.

    Args:
        cut_by: the job with the shop that made the cut.
        fence_mm: where the fence was set, and so where the others are cut.
    """
    tolerance_mm = cut_by.tolerance_mm(pattern)
    others_mm = shift_mm(cut_by, pattern, (side.end, side.tail, side.faces), fence_mm)
    from_others = off_mm - others_mm
    if from_others < 0:
        bitten = bite(pattern, cut_by, stood_mm(cut_by, pattern, side, off_mm), side.end, side.faces)
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
    return mark_where_cut(walker, pattern, side, off_mm, show)


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
    meets = tail_met(pattern, cut_by, fence_mm, end, faces)
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
