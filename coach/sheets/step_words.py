"""What a step asks of the person, in words: the same on the screen and wherever a step is told."""

from __future__ import annotations

from dataclasses import dataclass

from coach.plan.geometry import cut_length_mm
from coach.plan.steps import Step, StepKind
from coach.plan.walker import WORTH_MOVING_MM, Walker
from coach.sheets.mark_words import drawn_words, mark_words
from coach.sheets.saying import TURN_CHANGES, TURN_WORDS, Saying, counted, reading_at, rig_words
from coach.trade.reminders import checklist, topic_title
from coach.words import End, Face, Joint, Side


@dataclass(frozen=True, slots=True)
class Told:
    """A step in words.

    Attributes:
        kind: one or two words for what it is.
        headline: what to do, short.
        lines: the particulars, in the order in which they are needed.
    """

    kind: str
    headline: str
    lines: tuple[str, ...]


def tell(walker: Walker, step: Step, saying: Saying, *, key: str = "space") -> Told:
    """`step`, which is the one to do now, in words; `key` says that it is done."""
    match step.kind:
        case StepKind.PREPARE:
            assert step.topic is not None
            return Told("Prepare", topic_title(step.topic), checklist(step.topic))
        case StepKind.SET_FENCE:
            return _tell_fence(walker, step, saying)
        case StepKind.CHECK:
            return _tell_check(walker, step, saying, key)
        case StepKind.CUT:
            return _tell_cut(walker, step, saying)
    return _tell_bench(walker, step, saying)


def briefly(walker: Walker, step: Step | None, saying: Saying) -> str:
    """A step in a few words, for what comes next and what was done last."""
    if step is None:
        return "the batch is done"
    job = walker.job
    match step.kind:
        case StepKind.PREPARE:
            assert step.topic is not None
            return f"prepare: {topic_title(step.topic)}"
        case StepKind.SET_FENCE:
            assert step.setting is not None
            return f"fence to {reading_at(walker, step.setting, saying)} (setting {step.setting + 1})"
        case StepKind.CHECK:
            return "a cut on scrap, measured"
        case StepKind.CUT:
            assert step.side is not None
            turn = f", {step.turn.value}" if step.turn is not None else ""
            return f"{job.board(step.side.board).label}{turn}: {side_words(step.side)}"
    assert step.board is not None
    return f"{job.board(step.board).label}, end {step.end}: {_BENCH_KIND[step.kind].lower()}"


def side_words(side: Side) -> str:
    """A side of a tail, without its board."""
    return f"end {side.end}, tail {side.tail}, {side.faces} side"


def board_name(walker: Walker, number: int) -> str:
    """A board's label, with its hand and whether it is a spare."""
    board = walker.job.board(number)
    hand = walker.job.patterns[board.pattern].hand
    notes = [note for note in (hand, "spare" if board.spare else None) if note]
    return f"{board.label} ({', '.join(notes)})" if notes else board.label


def _tell_fence(walker: Walker, step: Step, saying: Saying) -> Told:
    assert step.setting is not None
    reading = reading_at(walker, step.setting, saying)
    move = walker.move_mm(step.setting)
    shop = walker.job_at(step.setting).shop
    if walker.changes_rig(step.setting):
        how = f"Change over: {rig_words(walker.job.shop, walker.settings.rig(step.setting))}. A scrap cut comes first."
    elif move is None:
        by = "by measuring; the scrap cut shows the rest" if shop.fence.graduation is None else "from the scale"
        how = f"The fence stands at the {shop.fence.side} of the blade; set it {by}."
    elif abs(move) < 0.005:
        how = "It was left here: make sure that it reads so and is locked."
    else:
        how = f"Move it {saying.on(shop.fence).move(move)}."
    jig = shop.jig
    left = walker.cuts_left(step.setting)
    lines = [
        how,
        f"Jig “{jig.name}”, {'wide' if jig.wide_leads else 'narrow'} end leading, against the fence.",
        f"Serves {counted(left, 'cut')} on {counted(walker.boards_left(step.setting), 'board')}.",
    ]
    if not jig.wide_leads:
        lines.append("Feeding draws a board off such a jig: clamp it, or use a heel behind it.")
    offset_mm = walker.offset_mm(step.setting)
    if saying.length(abs(offset_mm)) != saying.length(0.0):
        what = "distance" if shop.fence.graduation is None else "reading"
        lines.append(f"The {what} includes what the scrap cut has shown: {_signed(offset_mm, saying)}.")
    return Told(
        f"Setting {step.setting + 1} of {len(walker.settings.fence_mm)}", f"Set the fence to {reading}", tuple(lines)
    )


def _tell_check(walker: Walker, step: Step, saying: Saying, key: str) -> Told:
    assert step.mark_mm is not None
    assert step.setting is not None
    side = "far" if walker.job_at(step.setting).shop.jig.wide_leads else "near"
    drawn = drawn_words(walker, step.setting, saying)
    beside = f" ({drawn})" if drawn else ""
    return Told(
        "Scrap cut",
        f"Cut scrap and measure: {saying.length(step.mark_mm)}",
        (
            f"From the edge at the jig to the {side} side of the kerf, along the end{beside}.",
            f"Right within {saying.length(WORTH_MOVING_MM)}: {key}, as for any step. Else: m, and type what it is.",
            "Cut from both edges, the wood left shows the error twice as large (m offers it).",
        ),
    )


def _tell_cut(walker: Walker, step: Step, saying: Saying) -> Told:
    assert step.side is not None and step.mark_mm is not None and step.edge is not None and step.face_up is not None
    side = step.side
    joint = walker.job.pattern_of(side.board).ends[side.end]
    shop = walker.job.shop if step.setting is None else walker.job_at(step.setting).shop
    length = cut_length_mm(shop.jig, joint.tail_length_mm)
    label = walker.job.board(side.board).label
    new = side.board != walker.in_hand
    if new and side.board not in walker.lies:
        turn = f"Take {label} from the pile and lay it so:"
    elif step.turn is not None:
        motion = TURN_WORDS[step.turn]
        told = f"{motion.capitalize()}: {TURN_CHANGES[step.turn]}."
        turn = f"Take {label} from the pile; {motion}." if new else told
    else:
        turn = f"Take {label} from the pile as it lies: no turn." if new else "As it lies in your hand: no turn."
    return Told(
        "Cut",
        f"{board_name(walker, side.board)}: {side_words(side)}",
        (
            turn,
            lie_words(step),
            f"{mark_words(walker, step, saying)} The cut is {saying.length(length)} long.",
        ),
    )


def lie_words(step: Step) -> str:
    """How the board has to lie for a cut."""
    assert step.side is not None and step.edge is not None and step.face_up is not None
    face = "OUTSIDE" if step.face_up is Face.OUTSIDE else "INSIDE"
    return f"End {step.side.end} leads, {step.edge.upper()} edge at the jig, {face} face up."


_BENCH_KIND = {
    StepKind.CLEAR: "Clear the waste",
    StepKind.TRANSFER: "Mark the pins",
    StepKind.SAW_PIN: "Saw the pins",
    StepKind.FIT: "Fit the corner",
}


def _tell_bench(walker: Walker, step: Step, saying: Saying) -> Told:
    assert step.board is not None and step.end is not None
    board = board_name(walker, step.board)
    corner = f"{walker.job.board(step.board).label} {step.end}"
    joint = walker.job.pattern_of(step.board).ends[step.end]
    part = walker.job.pattern_of(step.board).part
    lines = {
        StepKind.CLEAR: f"{counted(joint.tails + 1, 'socket')} out to the baseline: all tails at this end are sawn.",
        StepKind.TRANSFER: (
            f"Scribe the pin board's baseline, {saying.length(part.thickness_mm)} from its end. Lay this end on it, "
            f"inside face down, top edges flush; mark round the tails, and write “{corner}” on both boards."
        ),
        StepKind.SAW_PIN: (
            f"The pin board that says “{corner}”: {counted(joint.tails + 1, 'pin')}, half pins counted; then chop out "
            "the waste between them."
        ),
        StepKind.FIT: f"Tail board and pin board that both say “{corner}”.",
    }
    more: tuple[str, ...] = ()
    if step.kind is StepKind.CLEAR:
        more = _moved_baseline(walker, step.board, step.end, saying)
    elif step.kind is StepKind.SAW_PIN and joint.joint is Joint.HALF_BLIND:
        more = (f"Half-blind: aslant by hand, to baseline and lap ({saying.length(joint.lap_mm)}); chop the rest.",)
    if step.kind in (StepKind.TRANSFER, StepKind.SAW_PIN):
        more = (*_own_marks(walker, step.board, step.end), *more)
    return Told(_BENCH_KIND[step.kind], f"{board}, end {step.end}", (lines[step.kind], *more))


def _own_marks(walker: Walker, number: int, end: End) -> tuple[str, ...]:
    """What to say of an end whose marks aren't those of the others, since a cut went wrong."""
    from coach.plan.changes import laid_out  # only here: a batch is resumed quicker without

    joint = walker.job.pattern_of(number).ends[end]
    meant = walker.job.patterns[laid_out(walker.job, walker.job.board(number).pattern)].ends[end]
    if (joint.top_marks_mm, joint.bottom_marks_mm) == (meant.top_marks_mm, meant.bottom_marks_mm):
        return ()
    return ("A cut here was off: its pins are marked from this board, and not cut in a gang with the others.",)


def _moved_baseline(walker: Walker, number: int, end: End, saying: Saying) -> tuple[str, ...]:
    """What to say of an end that a cut too deep has given a baseline of its own."""
    from coach.plan.changes import laid_out  # only here: a batch is resumed quicker without

    joint = walker.job.pattern_of(number).ends[end]
    meant = walker.job.patterns[laid_out(walker.job, walker.job.board(number).pattern)].ends[end]
    more = joint.tail_length_mm - meant.tail_length_mm
    if more < 0.005:
        return ()
    return (f"Its baseline lies {saying.length(more)} further in than the others': a cut here was too deep.",)


def _signed(mm: float, saying: Saying) -> str:
    return f"{'+' if mm > 0 else '−'}{saying.length(abs(mm))}"
