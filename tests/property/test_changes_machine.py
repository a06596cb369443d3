"""A batch in which everything goes wrong that can: whatever is changed, every board left comes out right."""

from __future__ import annotations

import math
import os
import tempfile
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from itertools import islice
from pathlib import Path

import pytest
from hypothesis import HealthCheck, event, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from support.mid_batch import even, several, tolerant, tools, uneven
from support.sawn_wood import Kerf, Wood, bench_of, designed
from support.small_batches import Ticking
from support.small_jobs import plain

from coach.ground.errors import CoachError
from coach.ground.terms import Hand, Side
from coach.plan.deciding.decide import decide
from coach.plan.job import Job, laid_out
from coach.plan.judging.mistakes import Mistake, Verdict
from coach.plan.judging.reach_problems import reach_problems
from coach.plan.steps import Step, StepKind
from coach.plan.walking.situation import FenceState, Situation
from coach.plan.walking.walker import Walker, after, plan
from coach.record.batch import corrections
from coach.record.batch.corrections import Correction
from coach.record.batch.events import fold, step_of
from coach.record.batch.session import Session, start
from coach.record.batch.taking_back import undone_numbers
from coach.record.disk.store import Store
from coach.record.kinds import CHANGE_KINDS, RETURN, SPOIL, STEP_KINDS
from coach.record.rows import Event, Stale
from coach.shop.tools import Shop

EXAMPLES = int(os.environ.get("COACH_MACHINE_EXAMPLES", "30"))
PICK = st.integers(0, 10_000)
OFF_MM = st.sampled_from((-9.0, -5.0, -1.2, -0.3, -0.05, 0.0, 0.04, 0.2, 0.6, 1.5, 4.0, 12.0))
KERFS_MM = st.sampled_from((0.9, 0.9, 0.6, 1.2, 2.1))
WIDTHS_MM = st.sampled_from((80.0, 80.0, 95.5))
GRADUATIONS = st.sampled_from((None, None, "1/2", "127/160"))


class Batch(RuleBasedStateMachine):
    """A batch under way, the wood that it is cut from, and a person who makes every mistake."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.clock = Ticking()
        self.store = Store.open(Path(self.folder.name), clock=self.clock)
        self.wood = Wood()
        self.before: dict[int, tuple[Situation, Wood]] = {}
        self.tolerance_mm = 0.0
        self.session: Session

    @initialize(
        laid_out=st.sampled_from((even, uneven, tolerant)),
        side=st.sampled_from(tuple(Hand)),
        graduation=GRADUATIONS,
        wide_leads=st.sampled_from((True, True, True, False)),
        rigs=st.sampled_from((1, 1, 1, 4)),
        done=st.sampled_from((0, 8, 11, 19, 30, 48, 70)),
    )
    def begin(
        self,
        laid_out: Callable[[Shop], Job],
        side: Hand,
        graduation: str | None,
        wide_leads: bool,
        rigs: int,
        done: int,
    ) -> None:
        shop = tools(0.9, 80.0, side, graduation, wide_leads=wide_leads)
        made = laid_out(shop if rigs == 1 else several(shop))
        decided = decide(made)
        assert reach_problems(made, decided, plain) == []
        event(f"{len(set(decided.rigs)) or 1} rigs")
        self.session = start(self.store, "batch", made, decided, "mm")
        self._note_tolerance()
        self.go(done)

    @rule(steps=st.integers(1, 9))
    def go(self, steps: int) -> None:
        for _ in range(steps):
            step = self.session.next()
            if step is None:
                return
            self._do(step)

    @rule(off_mm=st.sampled_from((-0.7, 0.4)))
    def check_off(self, off_mm: float) -> None:
        """The next scrap cut, if one is due, is off; the fence then has to be moved."""
        step = self.session.next()
        if step is not None and step.kind is StepKind.CHECK:
            assert step.mark_mm is not None
            self._note()
            self.session.complete(step, measured_mm=step.mark_mm + off_mm)
            following = self.session.next()
            assert following is not None
            assert following.kind is StepKind.SET_FENCE

    @rule(whole=st.booleans())
    def undo(self, whole: bool) -> None:
        """What was done last is as if it had never been: the batch and the wood are as they stood before it."""
        taken = self.session.undo(whole=whole)
        if not taken:
            assert not any(made.kind in CHANGE_KINDS or made.kind in STEP_KINDS for made in self._standing())
            return
        event(f"taken back: {', '.join(sorted({made.kind for made in taken}))}")
        first = min(made.number for made in taken)
        before, self.wood = self.before[first]
        self.wood = deepcopy(self.wood)
        doubted = any(made.kind == RETURN and made.number > first for made in self.session.events)
        now = self.session.walker.situation()
        if doubted:  # a break leaves the fence in doubt, whatever is taken back
            now, before = (replace(one, fence=FenceState(), unprepared=()) for one in (now, before))
        assert now == before

    def _standing(self) -> list[Event]:
        undone = undone_numbers(self.session.events)
        return [made for made in self.session.events if made.number not in undone]

    def _note(self) -> None:
        """How the batch and the wood stand before the next event."""
        self.before[self.session.events[-1].number + 1] = (self.session.walker.situation(), deepcopy(self.wood))

    @rule(which=PICK)
    def take_back(self, which: int) -> None:
        cut = self._cut(which)
        if cut is not None and self._tried(lambda: corrections.take_back(self.session, cut)):
            self.wood.never_cut(cut.data["number"], cut.number)

    @rule(which=PICK, mistake=st.sampled_from(tuple(Mistake)), off_mm=OFF_MM)
    def go_wrong(self, which: int, mistake: Mistake, off_mm: float) -> None:
        cut = self._cut(which)
        if cut is None:
            return
        try:
            judgement, correction = corrections.cut_wrong(self.session, cut, mistake, off_mm, plain)
        except CoachError:
            event("refused: cut_wrong")
            return
        event(f"{mistake}: {judgement.verdict}")
        self._note()
        self.session.change(correction.events)
        self._sawn_wrong(cut, mistake, off_mm, judgement.verdict, judgement.counts_as)
        self._lettered_anew()

    @rule(which=PICK)
    def spoil(self, which: int) -> None:
        number = self._board(which)
        if self._tried(lambda: corrections.spoil(self.session, number, "split")):
            self._lettered_anew()

    @rule(which=PICK)
    def drop(self, which: int) -> None:
        number = self._board(which)
        self._tried(lambda: corrections.drop(self.session, number))

    @precondition(lambda self: len(self.session.job.boards) < 8)
    @rule(which=PICK, count=st.integers(1, 2), spare=st.booleans())
    def add(self, which: int, count: int, spare: bool) -> None:
        like = self._board(which)
        self._tried(lambda: corrections.add_boards(self.session, like, count, spare=spare)[1])

    @rule(which=PICK, text=st.sampled_from(("left front", "Zarge ü", " side 2 ", "[x]")))
    def label(self, which: int, text: str) -> None:
        number = self._board(which)
        self._tried(lambda: corrections.label(self.session, number, text))

    @rule(
        which=PICK,
        how=st.sampled_from((corrections.put_aside, corrections.take_up, corrections.skip, corrections.finish_first)),
    )
    def reorder(self, which: int, how: Callable[[Session, int], Correction]) -> None:
        number = self._board(which)
        self._tried(lambda: how(self.session, number))

    @rule(which=PICK)
    def set_first(self, which: int) -> None:
        setting = which % len(self.session.walker.settings.fence_mm)
        self._tried(lambda: corrections.set_first(self.session, setting))

    @rule(kerf_mm=KERFS_MM, width_mm=WIDTHS_MM, graduation=GRADUATIONS)
    def change_blade_and_jig(self, kerf_mm: float, width_mm: float, graduation: str | None) -> None:
        old = self.session.job.shop
        if old.rigs > 1:
            self._with(replace(old, saw=replace(old.saw, kerf_mm=kerf_mm)))
            return
        self._with(tools(kerf_mm, width_mm, old.fence.side, graduation, wide_leads=old.jig.wide_leads))

    @rule()
    def move_the_fence_to_the_other_side(self) -> None:
        old = self.session.job.shop
        side = Hand.LEFT if old.fence.side is Hand.RIGHT else Hand.RIGHT
        self._with(replace(old, fences=(replace(old.fence, side=side),)))

    def _with(self, now: Shop) -> None:
        if self._tried(lambda: corrections.change_shop(self.session, now, plain)):
            fence = self.session.walker.fence
            assert not fence.confirmed
            assert fence.check_due
            assert fence.offset_mm == 0.0
            self._note_tolerance()

    @rule(minutes=st.sampled_from((2, 30, 2000)))
    def come_back(self, minutes: int) -> None:
        self.clock.time += timedelta(minutes=minutes)
        self.session.come_back(self.clock.time)

    @rule()
    def open_again(self) -> None:
        opened = Session(self.store, self.store.batch(self.session.id))
        assert opened.walker.situation() == self.session.walker.situation()
        assert opened.walker.in_hand == self.session.walker.in_hand
        assert opened.undone == undone_numbers(self.store.events(self.session.id))
        self.session = opened

    @rule()
    def two_windows(self) -> None:
        """A second window goes on; the first then learns of it at its key, and nothing counts twice."""
        step = self.session.next()
        if step is None:
            return
        slower = self.session
        self.session = Session(self.store, self.store.batch(slower.id))
        self._do(step)
        events = self.store.latest(slower.id)
        with pytest.raises(Stale):
            slower.complete(step)
        assert self.store.latest(slower.id) == events
        assert slower.walker.situation() == self.session.walker.situation()
        self.session = slower

    @invariant()
    def the_record_leads_here(self) -> None:
        assert fold(list(self.store.events(self.session.id))).situation() == self.session.walker.situation()

    @invariant()
    def the_tally_agrees(self) -> None:
        row, walker = self.store.batch(self.session.id), self.session.walker
        sides = self._sides()
        assert (row.cuts, row.cuts_done) == (len(sides), len(sides & walker.done))
        assert row.cuts == walker.cuts_in_all
        assert row.cuts_done == walker.cuts_in_all - walker.cuts_left_in_all
        if len(self.session.events) > 2:
            assert row.finished == (self.session.next() is None)

    @invariant()
    def the_plan_asks_for_what_is_left_and_nothing_else(self) -> None:
        walker = self.session.walker
        done = set(walker.done)
        asked = []
        for step in plan(walker.situation()):
            if step.side is not None:
                assert step.side not in done
                assert step.side.board not in walker.out
                assert step.setting is not None
                done.add(step.side)
                asked.append(step.side)
            elif step.kind is StepKind.CLEAR:
                assert step.board is not None and step.end is not None
                assert step.board not in walker.out
                assert all(side in done for side in self._sides() if (side.board, side.end) == (step.board, step.end))
        assert len(asked) == len(set(asked))
        assert set(asked) == self._sides() - walker.done

    @invariant()
    def the_plan_goes_on_as_it_was_meant(self) -> None:
        situation = self.session.walker.situation()
        meant = list(plan(situation))
        assert self.session.next() == (meant[0] if meant else None)
        for number, step in enumerate(islice(meant, 3)):
            situation = after(situation, step)
            assert list(plan(situation)) == meant[number + 1 :]

    @invariant()
    def what_is_recorded_as_cut_is_cut(self) -> None:
        out = self.session.walker.out
        standing = {
            side
            for number, board in self.wood.boards.items()
            if number not in out
            for side, _ in board.standing.values()
        }
        assert standing == {side for side in self.session.walker.done if side.board not in out}

    def teardown(self) -> None:
        try:
            if hasattr(self, "session"):
                self._finish()
        finally:
            self.store.close()
            self.folder.cleanup()

    def _finish(self) -> None:
        while (step := self.session.next()) is not None:
            self._do(step)
        assert self.store.batch(self.session.id).finished or len(self.session.events) == 2
        for board in self.session.job.boards:
            if board.number not in self.session.walker.out:
                self.wood.inspect(board.number, self.session.job, self.tolerance_mm)

    def _do(self, step: Step) -> None:
        walker = self.session.walker
        self._note()
        if step.side is not None and step.setting is not None:
            number = self.session.events[-1].number + 1
            length = walker.job.pattern_of(step.side.board).ends[step.side.end].tail_length_mm
            shop = walker.job_at(step.setting).shop
            self.wood.cut(number, step, shop, walker.cuts_at_mm(step.setting), length)
        self.session.complete(step)

    def _sawn_wrong(
        self, cut: Event, mistake: Mistake, off_mm: float, verdict: Verdict, counts_as: Side | None
    ) -> None:
        """The wood bears out what the person said."""
        number = cut.data["number"]
        if verdict is Verdict.SPOILED:
            return
        kerf = self._as_said(cut, mistake, off_mm)
        if verdict in (Verdict.WITHIN, Verdict.MENDABLE):
            self.wood.as_cut(number, cut.number, kerf, like_others=verdict is Verdict.WITHIN)
            return
        latest = next(made for made in reversed(self.session.events) if made.kind == StepKind.CUT)
        stands = counts_as is not None and latest.number > cut.number and step_of(latest).side == counts_as
        newly = stands and latest.number not in self._known()
        self.wood.elsewhere(
            number, cut.number, kerf, (latest.number, counts_as) if newly and counts_as is not None else None
        )

    def _lettered_anew(self) -> None:
        """A spare of the other hand that has just taken a place is lettered anew."""
        latest = self.session.events[-1]
        if latest.kind == SPOIL and latest.data.get("relettered"):
            event("a spare of the other hand serves")
            self.wood.letter_anew(latest.data["spare"])

    def _known(self) -> set[int]:
        return {event for board in self.wood.boards.values() for event in board.standing}

    def _as_said(self, cut: Event, mistake: Mistake, off_mm: float) -> Kerf:
        """The kerf where the mistake says it is; said of the cut as it was set up, whatever was said before."""
        before = fold(self.session.events[: cut.number - 1])
        step = step_of(cut)
        assert step.side is not None and step.setting is not None and step.edge is not None
        made = before.job_at(step.setting)
        length = made.pattern_of(step.side.board).ends[step.side.end].tail_length_mm
        bench = bench_of(made.shop, before.cuts_at_mm(step.setting))
        meant = Kerf(bench, made.shop.saw.kerf_mm, step.side.end.value, step.edge.value, length)
        match mistake:
            case Mistake.OFF_LINE | Mistake.WRONG_SIDE:
                # From the mark as drawn, wherever the fence was set.
                board = made.board(step.side.board)
                first = made.patterns[laid_out(made, board.pattern)]
                drawn_mm = first.ends[step.side.end].mark_mm(step.side.tail, step.side.faces)
                at_mm = meant.mark_mm(designed(first, board.label), step.side.faces.value)
                off = made.shop.saw.kerf_mm / math.cos(made.shop.jig.slope) if mistake is Mistake.WRONG_SIDE else off_mm
                return meant.off(drawn_mm - at_mm + off)
            case Mistake.TOO_DEEP:
                now = self.wood.of(step.side.board).standing[cut.number][1]
                return Kerf(now.bench, now.kerf_mm, now.end, now.edge, length).deeper(max(0.0, off_mm))
            case Mistake.WRONG_EDGE:
                return Kerf(bench, made.shop.saw.kerf_mm, step.side.end.value, step.edge.other.value, length)
        return Kerf(bench, made.shop.saw.kerf_mm, step.side.end.other.value, step.edge.value, length)

    def _tried(self, correct: Callable[[], Correction]) -> bool:
        """Whether a correction was recorded; one that is refused changes nothing."""
        before = self.session.walker.situation()
        try:
            correction = correct()
        except CoachError:
            assert self.session.walker.situation() == before
            return False
        self._note()
        self.session.change(correction.events)
        return True

    def _cut(self, which: int) -> Event | None:
        undone, out = undone_numbers(self.session.events), self.session.walker.out
        cuts = [
            made
            for made in self.session.events
            if made.kind == StepKind.CUT
            and made.number not in undone
            and (made.data["number"] not in out or which % 8 == 0)
        ]
        return cuts[which % len(cuts)] if cuts else None

    def _board(self, which: int) -> int:
        return self.session.job.boards[which % len(self.session.job.boards)].number

    def _sides(self) -> set[Side]:
        walker: Walker = self.session.walker
        return {
            Side(board.number, *key)
            for board in walker.job.boards
            if board.number not in walker.out
            for key in walker.job.patterns[board.pattern].sides()
        }

    def _note_tolerance(self) -> None:
        job = self.session.job
        rigged = [job.rigged(rig) for rig in range(job.shop.rigs)]
        widest = max(one.tolerance_mm(pattern) for one in rigged for pattern in job.patterns)
        self.tolerance_mm = max(self.tolerance_mm, widest)


@pytest.mark.parametrize("often", [False, True], ids=["snapshots as usual", "snapshots every seven entries"])
def test_whatever_is_changed_every_board_left_comes_out_right(often: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    if often:  # so that resuming from one, and going back behind it, comes up all the time
        for name, number in (("EVERY", 7), ("_AT_HAND", 3), ("_READ_BACK", 4)):
            monkeypatch.setattr(f"coach.record.batch.session.{name}", number)
        monkeypatch.setattr("coach.record.batch.course.MOST_KEPT", 5)
    run_state_machine_as_test(
        Batch,
        settings=settings(
            max_examples=EXAMPLES if not often else EXAMPLES // 2,
            stateful_step_count=40,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )
