"""What a step asks of the person, in words: the same on the screen and wherever a step is told."""

from __future__ import annotations

from dataclasses import dataclass

from coach.ground.terms import Face
from coach.plan.geometry import cut_length_mm
from coach.plan.steps import ENDS, Step, StepKind
from coach.plan.walking.alike_ends import Baselines, baselines
from coach.plan.walking.walker import WORTH_MOVING_MM, Walker
from coach.telling.naming import board_name, side_words
from coach.telling.phrases import TURN_CHANGES, TURN_WORDS, Saying, counted, reading_at, rig_words
from coach.telling.steps.bench import BENCH_TITLES, tell_bench
from coach.telling.steps.ends import preparing_lines
from coach.telling.steps.marks import drawn_words, mark_words
from coach.trade.reminders import checklist, topic_title


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
            return Told("Prepare", _topic_title(walker, step.topic), prepare_lines(walker, step.topic, saying))
        case StepKind.SET_FENCE:
            return _tell_fence(walker, step, saying)
        case StepKind.CHECK:
            return _tell_check(walker, step, saying, key)
        case StepKind.CUT:
            return _tell_cut(walker, step, saying)
    return Told(*tell_bench(walker, step, saying))


def briefly(walker: Walker, step: Step | None, saying: Saying) -> str:
    """A step in a few words, for what comes next and what was done last."""
    if step is None:
        return "the batch is done"
    job = walker.job
    match step.kind:
        case StepKind.PREPARE:
            assert step.topic is not None
            return f"prepare: {_topic_title(walker, step.topic)}"
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
    return f"{job.board(step.board).label}, end {step.end}: {BENCH_TITLES[step.kind].lower()}"


def prepare_lines(walker: Walker, topic: str, saying: Saying) -> tuple[str, ...]:
    """What must be so before wood is cut."""
    found = _alike(walker, topic)
    return checklist(topic) if found is None else (*preparing_lines(found, saying), *checklist(topic))


def _topic_title(walker: Walker, topic: str) -> str:
    found = _alike(walker, topic)
    several = found is not None and len(baselines(walker.job)) > 1
    return f"{topic_title(topic)}: {', '.join(found.labels)}" if found and several else topic_title(topic)


def _alike(walker: Walker, topic: str) -> Baselines | None:
    """The boards whose ends a topic is about."""
    kind, _, number = topic.partition(" ")
    found = baselines(walker.job) if kind == ENDS and number.isdecimal() else []
    return found[int(number) - 1] if 0 < int(number or 0) <= len(found) else None


def _tell_fence(walker: Walker, step: Step, saying: Saying) -> Told:
    assert step.setting is not None
    reading = reading_at(walker, step.setting, saying)
    move = walker.move_mm(step.setting)
    shop = walker.job_at(step.setting).shop
    if walker.changes_rig(step.setting):
        how = f"Change over: {rig_words(walker.job.shop, walker.settings.rig(step.setting))}. A scrap cut comes first."
    elif move is None:
        by = "by measuring" if shop.fence.graduation is None else "by the scale"
        how = f"Fence at {shop.fence.side} of blade, {by}."
    elif abs(move) < 0.005:
        how = "Left here: it reads so, and is locked."
    else:
        how = f"Move it {saying.on(shop.fence).move(move)}."
    jig = shop.jig
    left = walker.cuts_left(step.setting)
    lines = [
        how,
        f"Jig “{jig.name}”, {'wide' if jig.wide_leads else 'narrow'} end leading.",
        f"Serves {counted(left, 'cut')} on {counted(walker.boards_left(step.setting), 'board')}.",
    ]
    if not jig.wide_leads:
        lines.append("Feeding draws a board off such a jig: clamp it, or use a heel behind it.")
    offset_mm = walker.offset_mm(step.setting)
    if saying.length(abs(offset_mm)) != saying.length(0.0):
        lines.append(f"Corrected by the scrap cut: {_signed(offset_mm, saying)}.")
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
            f"{mark_words(walker, step, saying)}; cut {saying.length(length)}.",
        ),
    )


def lie_words(step: Step) -> str:
    """How the board has to lie for a cut."""
    assert step.side is not None and step.edge is not None and step.face_up is not None
    face = "OUTSIDE" if step.face_up is Face.OUTSIDE else "INSIDE"
    return f"End {step.side.end} leads, {step.edge.upper()} edge at the jig, {face} face up."


def _signed(mm: float, saying: Saying) -> str:
    return f"{'+' if mm > 0 else '−'}{saying.length(abs(mm))}"
