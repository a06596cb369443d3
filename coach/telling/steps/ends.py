"""What the ends of the boards are called, and how far their baselines are from them, square to the end."""

from __future__ import annotations

from collections.abc import Sequence

from coach.ground.terms import Hand, Joint
from coach.joint.layout import EndLayout
from coach.plan.job import Job
from coach.plan.walking.alike_ends import Baselines
from coach.telling.phrases import Saying

WHICH_END = "Outside to you, top edge up: A is at the left, B at the right."
ON_RIGHTS = "On rights, A and B change places."
FROM_THE_END = "Baseline from the end, square to it:"


def baseline_words(found: Baselines, saying: Saying) -> list[str]:
    """How far the baselines of such boards are from their ends, a line for each hand."""
    lines = []
    for hand, ends in found.ends:
        said: dict[str, list[str]] = {}
        for end, joint in ends:
            said.setdefault(end_words(joint, saying), []).append(str(end))
        which = [f"{' and '.join(names)} {words}" for words, names in said.items()]
        lines.append(f"{_whose(found.labels, hand)}: {', '.join(which)}.")
    return lines


def end_words(joint: EndLayout, saying: Saying) -> str:
    """How far one end's baseline is from it; and that it is half-blind."""
    blind = " (half-blind)" if joint.joint is Joint.HALF_BLIND else ""
    return f"{saying.length(joint.tail_length_mm)}{blind}"


def preparing_lines(found: Baselines, saying: Saying) -> tuple[str, ...]:
    """What is said when such boards are prepared: the baselines first, then what A and B mean."""
    lines = [FROM_THE_END, *baseline_words(found, saying), WHICH_END]
    return (*lines, ON_RIGHTS) if found.handed else tuple(lines)


def board_words(job: Job, number: int, saying: Saying) -> list[str]:
    """The baselines of one board as it is now, and what its ends are called."""
    pattern = job.pattern_of(number)
    said = [f"{end} {end_words(joint, saying)}" for end, joint in sorted(pattern.ends.items())]
    lines = [f"{FROM_THE_END} {', '.join(said)}.", WHICH_END]
    if pattern.hand is Hand.RIGHT:
        lines.append("This is a right: what is A on a left is B here.")
    return lines


def _whose(labels: Sequence[str], hand: Hand | None) -> str:
    return f"{', '.join(labels)}{'' if hand is None else f', {hand}'}"
