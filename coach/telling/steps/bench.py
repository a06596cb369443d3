"""What is done at the bench at one end of a board, for a through joint and for a half-blind one."""

from __future__ import annotations

from coach.ground.terms import End, Joint
from coach.joint.layout import EndLayout
from coach.plan.steps import Step, StepKind
from coach.plan.walking.walker import Walker
from coach.telling.naming import board_name
from coach.telling.phrases import Saying, counted

BENCH_TITLES = {
    StepKind.CLEAR: "Clear the waste",
    StepKind.TRANSFER: "Mark the pins",
    StepKind.SAW_PIN: "Saw the pins",
    StepKind.FIT: "Fit the corner",
}


def tell_bench(walker: Walker, step: Step, saying: Saying) -> tuple[str, str, tuple[str, ...]]:
    """What a step at the bench is, at which end of which board, and its particulars."""
    assert step.board is not None and step.end is not None
    joint = walker.job.pattern_of(step.board).ends[step.end]
    corner = f"{walker.job.board(step.board).label} {step.end}"
    blind = joint.joint is Joint.HALF_BLIND
    lines = {
        StepKind.CLEAR: _clearing,
        StepKind.TRANSFER: _marking,
        StepKind.SAW_PIN: _sawing,
        StepKind.FIT: _fitting,
    }[step.kind](walker, step.board, joint, corner, saying)
    if step.kind is StepKind.CLEAR:
        lines = (*lines, *_moved_baseline(walker, step.board, step.end, saying))
    if step.kind in (StepKind.TRANSFER, StepKind.SAW_PIN):
        lines = (*lines, *_own_marks(walker, step.board, step.end))
    where = f"{board_name(walker, step.board)}, end {step.end}{' (half-blind)' if blind else ''}"
    return BENCH_TITLES[step.kind], where, lines


def _clearing(walker: Walker, number: int, joint: EndLayout, corner: str, saying: Saying) -> tuple[str, ...]:
    del walker, number, corner
    baseline = saying.length(joint.tail_length_mm)
    return (
        f"{counted(joint.tails + 1, 'socket')} out to the baseline, {baseline} from the end: all tails here are sawn.",
    )


def _marking(walker: Walker, number: int, joint: EndLayout, corner: str, saying: Saying) -> tuple[str, ...]:
    """How the two boards are laid together for the pins to be marked.

    In a through joint the tails' ends lie flush with the pin board's outside face. In a half-blind one they lie to the
    lap line, a tail length from the pin board's inside face: so much of the end stays in front of them.
    """
    thick = saying.length(walker.job.pattern_of(number).part.thickness_mm)
    if joint.joint is Joint.HALF_BLIND:
        scribe = (
            f"Scribe on the pin board's end the lap line, {saying.length(joint.tail_length_mm)} from its inside face; "
            f"on that face the baseline, {thick} from the end."
        )
        lay = "tails' ends to the lap line"
    else:
        scribe = f"Scribe the pin board's baseline on both faces, {thick} from its end."
        lay = "tails' ends flush with its outside face"
    return (
        scribe,
        f"Clamp it end up, inside to you; lay this end on it, inside down, {lay}, top edges flush.",
        f"Mark round the tails; write “{corner}” on both.",
    )


def _sawing(walker: Walker, number: int, joint: EndLayout, corner: str, saying: Saying) -> tuple[str, ...]:
    del walker, number
    said = f"The pin board that says “{corner}”: {counted(joint.tails + 1, 'pin')}, half pins counted;"
    if joint.joint is Joint.HALF_BLIND:
        return (
            f"{said} half-blind: aslant by hand, to baseline and lap line, never into the lap "
            f"({saying.length(joint.lap_mm)}); chop the rest.",
        )
    return (f"{said} then chop out the waste between them.",)


def _fitting(walker: Walker, number: int, joint: EndLayout, corner: str, saying: Saying) -> tuple[str, ...]:
    del walker, number, saying
    said = f"Tail board and pin board that both say “{corner}”."
    return (
        (said, "Half-blind: home when the tails' ends touch the lap.") if joint.joint is Joint.HALF_BLIND else (said,)
    )


def _own_marks(walker: Walker, number: int, end: End) -> tuple[str, ...]:
    """What to say of an end whose marks aren't those of the others, since a cut went wrong."""
    joint, meant = _as_now_and_as_laid_out(walker, number, end)
    if (joint.top_marks_mm, joint.bottom_marks_mm) == (meant.top_marks_mm, meant.bottom_marks_mm):
        return ()
    return ("A cut here was off: its pins are marked from this board, and not cut in a gang with the others.",)


def _moved_baseline(walker: Walker, number: int, end: End, saying: Saying) -> tuple[str, ...]:
    """What to say of an end that a cut too deep has given a baseline of its own."""
    joint, meant = _as_now_and_as_laid_out(walker, number, end)
    more = joint.tail_length_mm - meant.tail_length_mm
    if more < 0.005:
        return ()
    return (
        f"Its baseline lies {saying.length(more)} further in than the others': a cut here was too deep. The board "
        "across from it gets the same at its end there.",
    )


def _as_now_and_as_laid_out(walker: Walker, number: int, end: End) -> tuple[EndLayout, EndLayout]:
    from coach.plan.job import laid_out  # only here: a batch is resumed quicker without

    first = walker.job.patterns[laid_out(walker.job, walker.job.board(number).pattern)]
    return walker.job.pattern_of(number).ends[end], first.ends[end]
