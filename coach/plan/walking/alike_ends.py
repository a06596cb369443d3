"""Boards whose ends are alike, which are prepared together; and what is prepared before a batch's first setting."""

from __future__ import annotations

from dataclasses import dataclass

from coach.ground.terms import End, Hand, Joint
from coach.joint.layout import EndLayout
from coach.plan.job import Job, Pattern
from coach.plan.steps import ENDS, FIRST_TOPICS


@dataclass(frozen=True, slots=True)
class Baselines:
    """Boards whose ends are alike.

    Attributes:
        labels: their parts, or layout and part where labels clash.
        ends: for each hand, or None where there are no hands, the joint at each end that is cut.
    """

    labels: tuple[str, ...]
    ends: tuple[tuple[Hand | None, tuple[tuple[End, EndLayout], ...]], ...]

    @property
    def handed(self) -> bool:
        """Whether they are lefts and rights."""
        return any(hand is not None for hand, _ in self.ends)


def baselines(job: Job) -> list[Baselines]:
    """The parts of a batch, those together whose ends are alike, in the order of the layouts."""
    alike: dict[object, tuple[list[str], Baselines]] = {}
    parts: dict[tuple[str, int], list[Pattern]] = {}
    for board in job.boards:
        pattern = job.patterns[board.pattern]
        stem = board.label.rpartition(" ")[0] or board.label
        of_part = parts.setdefault((stem, id(pattern.part)), [])
        if all(one.hand is not pattern.hand for one in of_part):
            of_part.append(pattern)
    for (label, _), patterns in parts.items():
        patterns.sort(key=lambda pattern: pattern.hand is Hand.RIGHT)
        ends = tuple((pattern.hand, tuple(sorted(pattern.ends.items()))) for pattern in patterns)
        key = tuple((hand, tuple((end, _depth(joint)) for end, joint in cut)) for hand, cut in ends)
        alike.setdefault(key, ([], Baselines((), ends)))[0].append(label)
    return [Baselines(tuple(labels), found.ends) for labels, found in alike.values()]


def _depth(joint: EndLayout) -> tuple[float, Joint, float]:
    return round(joint.tail_length_mm, 6), joint.joint, round(joint.lap_mm, 6)


def first_topics(job: Job) -> tuple[str, ...]:
    """What is prepared before the first setting: after the boards in general, which end is which on each kind."""
    after = FIRST_TOPICS.index("boards") + 1
    ends = (f"{ENDS} {number}" for number in range(1, len(baselines(job)) + 1))
    return (*FIRST_TOPICS[:after], *ends, *FIRST_TOPICS[after:])
