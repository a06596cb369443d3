"""Why a plan is the least work: bounds that are worked out apart from the plan, and what rounding does to the wood."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from coach.ground.terms import Edge, End, Lie, Turn
from coach.plan.deciding.cover import Want
from coach.plan.deciding.rigs import usable_rigs
from coach.plan.helping.totals import turn_ms
from coach.plan.intervals import NEAR, Interval
from coach.plan.job import Job, Pattern
from coach.plan.reach import PatternSide, fence_interval, reaches, shift_mm
from coach.plan.settings import Settings, lie_at
from coach.plan.steps import Step
from coach.plan.walking.turns import Stage, TurnCosts, turn_costs


@dataclass(frozen=True, slots=True)
class Witness:
    """A side that shares its setting with none of the other witnesses.

    Attributes:
        ranges: for each rig that the plan uses, where the fence may stand for it (F), None if the rig can't reach it.
        allowed: the range with the rig that cuts it.
        setting: the one that serves it.
    """

    pattern: Pattern
    side: PatternSide
    ranges: Want
    allowed: Interval
    setting: int

    @property
    def mark_mm(self) -> float:
        """Its mark, from the edge that it faces."""
        end, tail, faces = self.side
        return self.pattern.ends[end].mark_mm(tail, faces)


def witnesses(job: Job, settings: Settings) -> list[Witness]:
    """Sides of which no two can be served by one setting, in the order of the settings.

    Of all ranges of fence positions the one that ends first is taken, then the next that begins after its end, and so
    on. With one rig nobody can have more of them that are disjoint, and a setting serves one of them at most. With
    several, sides that only one of them reaches come first, and two sides can share a setting if they can with any rig.
    """
    rigs = sorted(set(settings.rigs)) or [0]
    seen: dict[Want, Witness] = {}
    for pattern, serving in _in_use(job, settings):
        for side, setting in serving.items():
            own = settings.rig(setting)
            ranges = tuple(_range(job.rigged(rig), pattern, side, cuts=rig == own) for rig in rigs)
            allowed = ranges[rigs.index(own)]
            assert allowed is not None
            seen.setdefault(ranges, Witness(pattern, side, ranges, allowed, setting))
    chosen: list[Witness] = []
    for witness in sorted(seen.values(), key=lambda found: (-found.ranges.count(None), found.allowed.high)):
        others = chosen if len(rigs) > 1 else chosen[-1:]
        if all(_apart(other.ranges, witness.ranges) for other in others):
            chosen.append(witness)
    return sorted(chosen, key=lambda found: found.setting)


def _range(job: Job, pattern: Pattern, side: PatternSide, *, cuts: bool) -> Interval | None:
    """Where the fence in use may stand for a side; None if the rig in use neither cuts nor reaches it."""
    return fence_interval(job, pattern, side) if cuts or reaches(job, pattern, side) else None


def proves_fewest(found: Sequence[Witness], settings: Settings) -> bool:
    """Whether there is a witness for each setting and no two of them could share one."""
    apart = all(_apart(one.ranges, other.ranges) for one, other in combinations(found, 2))
    return apart and len(found) == len(settings.fence_mm)


def _apart(some: Want, others: Want) -> bool:
    """Whether no point meets both, with whichever rig."""
    return all(
        one is None or other is None or max(one.low, other.low) - min(one.high, other.high) > 2 * NEAR
        for one, other in zip(some, others, strict=True)
    )


@dataclass(frozen=True, slots=True)
class OutOfReach:
    """What a rig by itself can't cut.

    Attributes:
        sides: how many sides of the patterns, of how many.
        first: one of them; None if the rig's jig has another slope, so that it can cut none.
    """

    rig: int
    sides: int
    of: int
    first: tuple[Pattern, PatternSide] | None


def out_of_reach(job: Job) -> list[OutOfReach]:
    """For each rig of the shop what it can't cut by itself; a rig that cuts everything isn't in it."""
    keys = [(job.patterns[index], side) for index in job.used_patterns for side in job.patterns[index].sides()]
    found = []
    usable = usable_rigs(job)
    for rig in range(job.shop.rigs):
        rigged = job.rigged(rig)
        if rig not in usable:
            found.append(OutOfReach(rig, len(keys), len(keys), None))
            continue
        out = [(pattern, side) for pattern, side in keys if not reaches(rigged, pattern, side)]
        if out:
            found.append(OutOfReach(rig, len(out), len(keys), out[0]))
    return found


@dataclass(frozen=True, slots=True)
class TurnsProof:
    """What turning boards of one pattern costs each, and what it must cost.

    Attributes:
        boards: how many are turned so.
        turns: what a board is turned, by kind.
        spent_ms: what that costs.
        least_ms: the least that any order of its cuts costs, setting after setting, found by another search.
        counted: how many turns there must be by counting alone.
        counted_swings: how many of those must bring the other end forward.
        counted_ms: what these must cost at least.
    """

    pattern: Pattern
    boards: int
    turns: Counter[Turn]
    spent_ms: int
    least_ms: int
    counted: int
    counted_swings: int
    counted_ms: int


def turns_proofs(job: Job, settings: Settings, steps: Sequence[Step]) -> list[TurnsProof]:
    """For each way in which boards are turned in `steps`, a whole batch: what it costs and the bounds that it meets."""
    turned: dict[int, Counter[Turn]] = {board.number: Counter() for board in job.boards}
    spent = dict.fromkeys(turned, 0)
    for step in steps:
        if step.side is not None and step.turn is not None:
            turned[step.side.board][step.turn] += 1
            spent[step.side.board] += turn_ms(job, step)
    alike: dict[tuple[int, tuple[int, ...], int], list[int]] = {}
    for board in job.boards:
        counts = tuple(turned[board.number][turn] for turn in Turn)
        alike.setdefault((board.pattern, counts, spent[board.number]), []).append(board.number)
    found = []
    for (index, _, spent_ms), numbers in alike.items():
        pattern = job.patterns[index]
        costs = turn_costs(job.shop.handling, pattern.part.length_mm)
        stages = stages_of(job, settings, index)
        counted, swings, counted_ms = counting_bound(stages, costs)
        least_ms = least_cost(stages, costs)
        turns = turned[numbers[0]]
        found.append(TurnsProof(pattern, len(numbers), turns, spent_ms, least_ms, counted, swings, counted_ms))
    return found


def stages_of(job: Job, settings: Settings, pattern: int) -> list[Stage]:
    """How a board of a pattern has to lie at each setting that serves it, in the order of the settings."""
    stages: dict[int, set[Lie]] = {}
    for (end, _, faces), setting in settings.serves[pattern].items():
        stages.setdefault(setting, set()).add(lie_at(job, settings, setting, end, faces))
    return [frozenset(stages[setting]) for setting in sorted(stages)]


def least_cost(stages: Sequence[Stage], costs: TurnCosts) -> int:
    """What the turns through all `stages` cost at least.

    Worked out forwards: for each set of lies that are done at a stage, and the one at which the board lies then, the
    least that it took to get there.
    """
    reached: Mapping[Lie | None, int] = {None: 0}
    for stage in stages:
        at: dict[tuple[Stage, Lie], int] = {}
        for lie in stage:
            at[frozenset({lie}), lie] = min(
                cost + (0 if before is None else costs.of(before.turn_to(lie))) for before, cost in reached.items()
            )
        for _ in range(len(stage) - 1):
            further: dict[tuple[Stage, Lie], int] = {}
            for (done, before), cost in at.items():
                for lie in stage - done:
                    key = (done | {lie}, lie)
                    total = cost + costs.of(before.turn_to(lie))
                    further[key] = min(further.get(key, total), total)
            at = further
        reached = {lie: cost for (_, lie), cost in at.items()}
    return min(reached.values())


def counting_bound(stages: Sequence[Stage], costs: TurnCosts) -> tuple[int, int, int]:
    """How many turns there must be, how many of them must bring the other end forward, and what they cost at least.

    So many lies at one setting take one turn fewer; if no lie of a setting is one of the next setting's, one more turn
    stands between them. Likewise for the ends alone: both ends at one setting take a turn that changes the end.
    """
    turns = sum(len(stage) - 1 for stage in stages)
    turns += sum(not before & after for before, after in pairwise(stages))
    ends = [{lie.end for lie in stage} for stage in stages]
    swings = sum(len(both) - 1 for both in ends) + sum(not before & after for before, after in pairwise(ends))
    swing_ms = min(costs.end_for_end, costs.end_over_end)
    return turns, swings, swings * swing_ms + (turns - swings) * min(costs)


@dataclass(frozen=True, slots=True)
class EndShifts:
    """What rounding to the settings does at one end of a pattern's boards; mm along the end.

    Attributes:
        marks: by how much each side's mark is shifted; positive is into the tail.
        tails: by how much each tail is wider at the end, from the top edge on.
        sockets: by how much each socket is wider at the end, half-pin sockets first and last.
    """

    pattern: Pattern
    end: End
    marks: Mapping[tuple[int, Edge], float]
    tails: tuple[float, ...]
    sockets: tuple[float, ...]


def end_shifts(job: Job, settings: Settings) -> list[EndShifts]:
    """What rounding does at each end of each pattern.

    A tail has two sides, and an inner socket lies between two: where both shift alike, either changes by twice that.
    """
    found = []
    for pattern, serving in _in_use(job, settings):
        for end, joint in pattern.ends.items():
            marks = {
                (tail, faces): _shift_mm(job, settings, pattern, (end, tail, faces), serving[end, tail, faces])
                for tail in range(1, joint.tails + 1)
                for faces in Edge
            }
            tails = [-marks[tail, Edge.TOP] - marks[tail, Edge.BOTTOM] for tail in range(1, joint.tails + 1)]
            sockets = [
                marks.get((above, Edge.BOTTOM), 0.0) + marks.get((above + 1, Edge.TOP), 0.0)
                for above in range(joint.tails + 1)
            ]
            found.append(EndShifts(pattern, end, marks, tuple(tails), tuple(sockets)))
    return found


def _shift_mm(job: Job, settings: Settings, pattern: Pattern, side: PatternSide, setting: int) -> float:
    return shift_mm(job.rigged(settings.rig(setting)), pattern, side, settings.fence_mm[setting])


def _in_use(job: Job, settings: Settings) -> list[tuple[Pattern, Mapping[PatternSide, int]]]:
    """The patterns that a board has, each with what serves it."""
    return [(job.patterns[index], settings.serves[index]) for index in job.used_patterns]
