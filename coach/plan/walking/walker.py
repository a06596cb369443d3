"""What comes next: starting, resuming and going on after a change are all this one code path."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from typing import NamedTuple

from coach.ground.terms import Lie, Side, Turn
from coach.plan.geometry import fence_for_mark_mm, mark_at_fence_mm
from coach.plan.job import Job
from coach.plan.reach import shift_mm
from coach.plan.steps import OVER, RETURN_TOPICS, Step, StepKind
from coach.plan.walking.bench_left import BenchKey, BenchLeft
from coach.plan.walking.fence_stands import stand_mm
from coach.plan.walking.situation import FenceState, Situation
from coach.plan.walking.turns import Stage, route, turn_costs
from coach.plan.walking.work_left import WorkLeft

WORTH_MOVING_MM = 0.1
"""A fence that a scrap cut shows to be off by more than this (in F) is moved before wood is cut."""


def next_step(situation: Situation) -> Step | None:
    """The step to do now, or None when the batch is done."""
    return Walker(situation).peek()


def after(situation: Situation, step: Step, measured_mm: float | None = None) -> Situation:
    """The situation once `step` is done; see `Walker.advance`."""
    walker = Walker(situation)
    walker.advance(step, measured_mm)
    return walker.situation()


def plan(situation: Situation) -> Iterator[Step]:
    """`next_step` applied again and again, with every scrap cut found right."""
    walker = Walker(situation)
    while (step := walker.peek()) is not None:
        yield step
        walker.advance(step)


class Before(NamedTuple):
    """What a walk was before a step, as far as that step changes it; for `Walker.back_to` alone."""

    step: Step | None
    new: bool
    lie: Lie | None
    state: tuple[FenceState, tuple[str, ...], bool, list[int] | None, int, int | None]


class Walker:
    """A situation on the move: `next_step` and `after` without building anything anew at each step."""

    def __init__(self, situation: Situation) -> None:
        self.job = situation.job
        self.settings = situation.settings
        self.fence = situation.fence
        self.done = set(situation.done)
        self.lies = dict(situation.lies)
        self.unprepared = list(situation.unprepared)
        self.out = situation.out
        self.aside = situation.aside
        self.board_first = situation.board_first
        self.setting_first = situation.setting_first
        self.in_hand: int | None = None  # the board cut last, until the fence is moved or the person has been away
        self._work = WorkLeft(self.job, self.settings, self.done, self.out, self.aside)
        self._order = situation.order
        self._place = {number: place for place, number in enumerate(self._order)}
        self._turned = False  # whether they lie the other way round
        self._queue: list[int] | None = None  # the boards of the setting at which the fence stands, in their order
        self._at = 0
        self._stands: dict[tuple[int, float], float] = {}
        self._bench = BenchLeft(self.job, self.out, situation.benched)

    def situation(self) -> Situation:
        """Where the walk stands."""
        return Situation(
            self.job,
            self.settings,
            frozenset(self.done),
            self.fence,
            dict(self.lies),
            tuple(self.order),
            tuple(self.unprepared),
            frozenset(self._bench.done),
            self.out,
            self.aside,
            self.board_first,
            self.setting_first,
        )

    @property
    def order(self) -> list[int]:
        """The order in which the boards lie, by number."""
        return list(reversed(self._order) if self._turned else self._order)

    def cuts_left(self, setting: int) -> int:
        """How many cuts are left at a setting."""
        return self._work.count[setting]

    def cuts_at(self, setting: int) -> int:
        """How many cuts a setting has in all."""
        return self._work.whole[setting]

    def boards_left(self, setting: int) -> int:
        """How many boards still have a cut at a setting."""
        return len(self._work.left[setting])

    @property
    def cuts_left_in_all(self) -> int:
        """How many cuts the batch still has."""
        return sum(self._work.count)

    @property
    def cuts_in_all(self) -> int:
        """How many cuts the batch has, done or not, without boards that are out."""
        return sum(self._work.whole)

    def board_cuts_left(self, number: int) -> int:
        """How many cuts a board still has."""
        left = self._work.left
        return sum(len(left[setting].get(number, ())) for setting in self._work.settings_of(number))

    @property
    def benched(self) -> AbstractSet[BenchKey]:
        """The steps at the bench that are done."""
        return self._bench.done

    @property
    def steps_at_bench(self) -> int:
        """How many steps follow after the last cut."""
        return self._bench.whole

    @property
    def steps_at_bench_left(self) -> int:
        """How many steps are left after the last cut."""
        return self._bench.left

    def peek(self) -> Step | None:
        """The step to do now, or None when the batch is done."""
        setting = self._setting_now()
        if setting is None:
            over = OVER in self.unprepared and self._bench.left and not self._bench.done
            return Step(StepKind.PREPARE, topic=OVER) if over else self._bench.step()
        if to_prepare := self._to_prepare():
            return Step(StepKind.PREPARE, topic=to_prepare[0])
        if self.fence.setting != setting or not self.fence.confirmed:
            return Step(StepKind.SET_FENCE, setting=setting, fence_mm=self.stands_mm(setting))
        if self.fence.check_due:
            return Step(StepKind.CHECK, setting=setting, mark_mm=self._mark_now_mm(setting))
        return self._cut_step(setting)

    def preview(self) -> Step | None:
        """The step after the one to do now, if that one goes well; nothing is changed."""
        step = self.peek()
        if step is None:
            return None
        before = self.before(step)
        self.advance(step)
        following = self.peek()
        self.back_to(before)
        return following

    def before(self, step: Step | None) -> Before:
        """What has to be known to go back behind `step`, which isn't done yet; None for the person's coming back."""
        new, lie = False, None
        if step is not None and step.side is not None:
            new, lie = step.side not in self.done, self.lies.get(step.side.board)
        elif step is not None and step.board is not None and step.end is not None:
            new = (step.kind, step.board, step.end) not in self._bench.done
        state = (self.fence, tuple(self.unprepared), self._turned, self._queue, self._at, self.in_hand)
        return Before(step, new, lie, state)

    def back_to(self, before: Before) -> None:
        """The walk as it was when `before` was told, if nothing but that step was done since."""
        self.fence, unprepared, self._turned, self._queue, self._at, self.in_hand = before.state
        self.unprepared = list(unprepared)
        step = before.step
        if step is None:
            return
        if step.side is not None:
            self._uncut(step.side, before.lie, new=before.new)
        elif before.new and step.board is not None and step.end is not None:
            self._bench.give_back((step.kind, step.board, step.end))

    def advance(self, step: Step, measured_mm: float | None = None) -> None:
        """Takes `step` as done.

        Args:
            measured_mm: for a check, the mark as it was measured on the scrap, from the edge to the side of the kerf
                that stands on the line; None if the cut was found right.
        """
        match step.kind:
            case StepKind.PREPARE:
                assert step.topic is not None
                if step.topic in self.unprepared:
                    self.unprepared.remove(step.topic)
            case StepKind.SET_FENCE:
                assert step.setting is not None
                self._move_fence(step.setting, step.fence_mm)
            case StepKind.CHECK:
                self._check(step, measured_mm)
            case StepKind.CUT:
                assert step.side is not None
                self._cut(step.side)
            case _:
                assert step.board is not None and step.end is not None
                self._bench.take((step.kind, step.board, step.end))

    def come_back(self) -> None:
        """After a break nobody knows what happened to the saw: fence unconfirmed, blade and guard to be looked at."""
        self.in_hand = None
        if self._setting_now() is None:
            return
        if not self._to_prepare():
            self.unprepared = [*RETURN_TOPICS, *self.unprepared]
        self.fence = replace(self.fence, confirmed=False, check_due=True)

    def job_at(self, setting: int) -> Job:
        """The job with the fence and the jig of a setting in use."""
        return self.job.rigged(self.settings.rig(setting))

    def changes_rig(self, setting: int) -> bool:
        """Whether another fence or jig is set up at a setting than where the fence stands, or stood last."""
        standing = self.fence.setting
        return standing is not None and self.settings.rig(standing) != self.settings.rig(setting)

    def offset_mm(self, setting: int) -> float:
        """What scrap cuts with a setting's rig have shown must be added to every reading."""
        return 0.0 if self.changes_rig(setting) else self.fence.offset_mm

    def stands_mm(self, setting: int) -> float:
        """Where the fence is to be put for a setting (F): see `coach.plan.walking.fence_stands`."""
        key = (setting, self.offset_mm(setting))
        if key not in self._stands:
            self._stands[key] = stand_mm(self.job, self.settings, *key)
        return self._stands[key]

    def cuts_at_mm(self, setting: int) -> float:
        """Where the fence stands (F) when a setting's cuts are made: where it is, as far as is known, else where it
        will be put."""
        if self.fence.setting == setting and self.fence.confirmed and self.fence.at_mm is not None:
            return self.fence.at_mm
        return self.stands_mm(setting)

    def mark_as_cut_mm(self, side: Side) -> float:
        """Where a side's kerf stands with the fence as it is set, along the end from the edge that the side faces."""
        board = self.job.board(side.board)
        pattern = self.job.patterns[board.pattern]
        key = (side.end, side.tail, side.faces)
        setting = self.settings.serving(board)[key]
        shift = shift_mm(self.job_at(setting), pattern, key, self.cuts_at_mm(setting))
        return pattern.ends[side.end].mark_mm(side.tail, side.faces) + shift

    def reading_mm(self, setting: int) -> float:
        """What the scale should read at a setting: F, the scale's zero, and what scrap cuts with its rig have shown."""
        return self.stands_mm(setting) + self.job_at(setting).shop.fence.zero_mm + self.offset_mm(setting)

    def move_mm(self, setting: int) -> float | None:
        """How far the fence has to go from where it stands, away from the blade; None before a rig's first setting."""
        if self.fence.at_mm is None or self.changes_rig(setting):
            return None
        return self.stands_mm(setting) - self.fence.at_mm

    def lie_of(self, side: Side) -> Lie:
        """How a board must lie for a side to be cut, told as for the fence in use."""
        return self._work.lie_of(side)

    def cut_of(self, side: Side, turn: Turn | None) -> Step:
        """The cut that makes a side, after `turn`."""
        board = self.job.board(side.board)
        setting = self.settings.serving(board)[side.end, side.tail, side.faces]
        lie, fence_side = self.lie_of(side), self.job.shop.fence.side
        same_side = not self.settings.rigs or self.job_at(setting).shop.fence.side is fence_side
        return Step(
            StepKind.CUT,
            setting=setting,
            side=side,
            edge=lie.edge if same_side else lie.edge.other,
            face_up=lie.face_up(fence_side),
            mark_mm=self.job.patterns[board.pattern].ends[side.end].mark_mm(side.tail, side.faces),
            turn=turn,
        )

    def _to_prepare(self) -> list[str]:
        """What is to be prepared before wood is cut."""
        return [topic for topic in self.unprepared if topic != OVER]

    def _setting_now(self) -> int | None:
        """The setting to cut at: what the person wants first, else where the fence stands, else as it travels."""
        work = self._work
        if self.board_first is not None and work.has(self.board_first):
            return self._first_setting(lambda index: self.board_first in work.left[index])
        if self.setting_first is not None and work.open(self.setting_first):
            return self.setting_first
        return self._first_setting(work.open)

    def _first_setting(self, wanted: Callable[[int], object]) -> int | None:
        standing = self.fence.setting
        if standing is not None and wanted(standing):
            return standing
        return next((index for index in self._travel(self._work.travel) if wanted(index)), None)

    def _travel(self, settings: Sequence[int]) -> Sequence[int]:
        """Settings in their order, but those of the rig that is set up first."""
        if not self.settings.rigs or self.fence.setting is None:
            return settings
        rig = self.settings.rig(self.fence.setting)
        return sorted(settings, key=lambda index: self.settings.rig(index) != rig)

    def _mark_now_mm(self, setting: int) -> float:
        """The mark, from the edge at the jig, at which the fence cuts where it stands."""
        shop = self.job_at(setting).shop
        at_mm = self.stands_mm(setting) if self.fence.at_mm is None else self.fence.at_mm
        return mark_at_fence_mm(shop.jig, shop.saw.kerf_mm, at_mm)

    def _move_fence(self, setting: int, fence_mm: float | None) -> None:
        if self.fence.worked and self.fence.setting != setting:
            self._turned = not self._turned  # the board cut last now lies on top
        self._queue, self._at, self.in_hand = None, 0, None
        if self.changes_rig(setting):
            self.fence = FenceState()
        worked = self.fence.worked and self.fence.setting == setting
        at_mm = self.settings.fence_mm[setting] if fence_mm is None else fence_mm
        self.fence = replace(self.fence, setting=setting, at_mm=at_mm, confirmed=True, worked=worked)

    def _check(self, step: Step, measured_mm: float | None) -> None:
        assert step.setting is not None and step.mark_mm is not None
        if measured_mm is None:
            self.fence = replace(self.fence, check_due=False)
            return
        shop = self.job_at(step.setting).shop
        stood_mm = fence_for_mark_mm(shop.jig, shop.saw.kerf_mm, step.mark_mm)
        off = fence_for_mark_mm(shop.jig, shop.saw.kerf_mm, measured_mm) - stood_mm
        right = abs(off) <= WORTH_MOVING_MM
        self.fence = replace(
            self.fence,
            at_mm=stood_mm + off,
            offset_mm=self.fence.offset_mm - off,
            confirmed=right,
            check_due=not right,
        )

    def _cut(self, side: Side) -> None:
        self.done.add(side)
        if not self.fence.worked:
            self.fence = replace(self.fence, worked=True)
        self.lies[side.board] = self._work.lie_of(side)
        self.in_hand = side.board
        self._work.take(side)
        if self.aside and not self._work.others_left():
            self._at = 0

    def _uncut(self, side: Side, lie: Lie | None, *, new: bool) -> None:
        """Takes back `_cut` of a side whose board lay as `lie` before; whether it was cut for the first time."""
        if new:
            self.done.discard(side)
            self._work.give_back(side)
        if lie is None:
            del self.lies[side.board]
        else:
            self.lies[side.board] = lie

    def _cut_step(self, setting: int) -> Step:
        boards = self._work.left[setting]
        number = self._board_now(boards)
        lie = self.lies.get(number)
        towards = self._route(number, setting, lie)
        return self.cut_of(boards[number][towards], None if lie is None else lie.turn_to(towards))

    def _board_now(self, boards: Mapping[int, object]) -> int:
        """The first board in the order in which they lie that has a cut at this setting."""
        if self.board_first is not None and self.board_first in boards:
            return self.board_first
        others = self._work.others_left()
        if self._queue is None:
            self._queue = sorted(boards, key=self._place.__getitem__, reverse=self._turned)
        while (number := self._queue[self._at]) not in boards or (others and number in self.aside):
            self._at = (self._at + 1) % len(self._queue)
        return number

    def _route(self, number: int, setting: int, lie: Lie | None) -> Lie:
        """Where the board goes next on its cheapest way through this setting and those to come."""
        left = self._work.left
        stages: list[Stage] = [frozenset(left[setting][number])]
        stages += [
            frozenset(left[later][number])
            for later in self._travel(self._work.settings_of(number))
            if later != setting and number in left[later]
        ]
        length_mm = self.job.pattern_of(number).part.length_mm
        return route(lie, stages, turn_costs(self.job.shop.handling, length_mm))[1][0]
