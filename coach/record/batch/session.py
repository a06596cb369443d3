"""A batch under way: what the record says of it, the step to do now, and one key's worth of progress at a time."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

from coach.ground.errors import CoachError
from coach.ground.lengths import Unit
from coach.ground.names import LONGEST_NAME, clean_text
from coach.joint.layout import Layout
from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.plan.steps import Step, StepKind
from coach.plan.walking.walker import Walker
from coach.record.batch.course import Course, Undos
from coach.record.batch.events import begun, fold, job_of, start_events, step_event, step_of, tally_of
from coach.record.batch.past import Past
from coach.record.batch.proving import FOLD_ERRORS, fits, refuse_strangers, refuse_unserved, sense_of
from coach.record.batch.stored import layout_to_json, settings_from_json
from coach.record.batch.taking_back import last_standing, latest_key, undo_event
from coach.record.disk.reader import Reader
from coach.record.disk.store import Store
from coach.record.kinds import RETURN, SETTINGS, START, STEP_KINDS, UNDO
from coach.record.rows import EVERY, BatchRow, Event, NewEvent, Stale, Tally, now

STILL_THERE = timedelta(minutes=10)
"""How long a break may be without the fence being doubted."""
_AT_HAND = 100
"""How many of the latest events can be taken back one by one right after resuming, without folding all anew."""
_READ_BACK = 1000
"""How many of the latest events are read at least, since the person's pace is told by them."""
LONGEST_CUT = timedelta(minutes=2)
"""What each of many cuts may take on average, turn and all, where one key completes them."""


class Session:
    """A batch opened for work. Nothing changes here before the record has it on disk."""

    def __init__(self, store: Reader, row: BatchRow) -> None:
        self._store = store
        self.id = row.id
        self.name = row.name
        self._snapshot = 0  # the event after which the latest snapshot was taken, as far as it can be used
        if not self._resumed():
            self._read_whole(row)
        self.unit: Unit = self._start.data["unit"]

    def _resumed(self) -> bool:
        """Goes on from a snapshot; False if there is none, or if anything about it is in doubt."""
        snapshots = self._store.snapshots(self.id)
        if not snapshots:
            return False
        from coach.record.batch.snapshots import kept_in

        latest = self._store.latest(self.id)
        begun_with = list(islice(self._store.events(self.id), 2))
        before = max(0, min(snapshots[-1].number, latest - _READ_BACK))
        read = list(self._store.events(self.id, before))
        if not (all(map(fits, (*begun_with, *read))) and [event.kind for event in begun_with] == [START, SETTINGS]):
            return False
        usable = [one for one in snapshots if not any(_reaches_behind(event, one.number) for event in read)]
        # Not from one near the end, if it can be helped: what is taken back first is to be at hand.
        usable.sort(key=lambda one: one.number <= latest - _AT_HAND, reverse=True)
        if not usable:
            return False
        self._begin(begun_with)
        kept = kept_in(usable[0].data, self._started_job, self._started_settings)
        if kept is None:
            return False
        self._snapshot = usable[0].number
        self.events = self._past(read, before)
        self._course = Course(kept.walker, self._snapshot, Undos(kept.undos), lambda: self.events)
        try:
            self._course.take([event for event in read if event.number > self._snapshot], read)
            self.walker.peek()
        except FOLD_ERRORS:
            return False
        return True

    def _read_whole(self, row: BatchRow) -> None:
        """Goes on from the first event.

        Raises:
            CoachError: the events can't be read, or don't make sense.
        """
        events = list(self._store.events(row.id))
        try:
            if all(map(fits, events)) and self._folded(events):
                return
        except FOLD_ERRORS:
            pass
        sense = sense_of(events)
        if sense.newer:
            raise CoachError(f"“{row.name}”: {sense.why}")
        raise self._store.rotten(row.id, sense.why or "its entries contradict each other")

    def _folded(self, events: Sequence[Event]) -> bool:
        """Folds all events, which have their form; False if they have no beginning.

        Raises:
            CoachError and others of `FOLD_ERRORS`: they don't make sense.
        """
        if [event.kind for event in events[:2]] != [START, SETTINGS]:
            return False
        refuse_strangers(events)
        self._begin(events[:2])
        self.events = self._past(events, 0)
        self._course = Course(begun(events), 2, Undos(), lambda: self.events)
        near = _quiet_place(events, len(events) - 2 * _AT_HAND)
        self._course.take(events[2:near], ())
        data = self._snapshot_data() if near >= EVERY and isinstance(self._store, Store) else ""
        self._course.take(events[near:], events[:near])
        refuse_unserved(self.walker)
        self.walker.peek()
        if data:
            self._keep_snapshot(near, data)
        return True

    def _begin(self, events: Sequence[Event]) -> None:
        self._start = events[0]
        self._started_job, self._started_settings = job_of(events[0].data), settings_from_json(events[1].data)

    def _past(self, latest: Sequence[Event], before: int) -> Past:
        return Past(latest, before, lambda: islice(self._store.events(self.id), before))

    @property
    def walker(self) -> Walker:
        """The walk as far as the events have brought it."""
        return self._course.walker

    @property
    def undone(self) -> frozenset[int]:
        """The numbers of the events that are taken back."""
        return self._course.undos.numbers

    @property
    def started_with(self) -> Mapping[str, Any]:
        """What the batch was started with: its layouts, shop and unit, as JSON."""
        return self._start.data

    @property
    def job(self) -> Job:
        """Boards and shop."""
        return self.walker.job

    @property
    def last_at(self) -> datetime:
        """When the latest event happened."""
        return datetime.fromisoformat(self.events[-1].at)

    def gone(self) -> str | None:
        """What has become of the record's files if they are no longer the ones that were opened."""
        return self._store.gone() if isinstance(self._store, Store) else None

    def moment(self) -> datetime:
        """The present moment by the record's clock."""
        return self._store.moment() if isinstance(self._store, Store) else now()

    def next(self) -> Step | None:
        """The step to do now, or None when the batch is done."""
        return self.walker.peek()

    def last_step(self) -> Step | None:
        """The latest step that stands, which undo would take back."""
        event = last_standing(self.events, self.undone)
        return None if event is None else step_of(event)

    def complete(self, step: Step, *, measured_mm: float | None = None, reading: str | None = None) -> None:
        """Records that `step`, the one to do now, is done; returns once that is on disk.

        Args:
            measured_mm: of a check, the mark as measured; None if the cut was found right.
            reading: of a fence setting, what the scale should have read, as it was shown.

        Raises:
            Stale: another window was quicker; this one has caught up and nothing was counted twice.
            CoachError: the record can't be written; nothing has changed.
        """
        event = step_event(self.job, step, measured_mm, reading)
        self._append([event], tally_of(self.walker, step))

    def complete_cuts(self, cuts: Sequence[Step]) -> None:
        """Records cuts that follow each other from the one to do now, each as an event, all of them or none.

        Raises:
            Stale, CoachError: as for `complete`.
        """
        assert all(step.kind is StepKind.CUT for step in cuts)
        tally = tally_of(self.walker)
        left = tally.steps_left - len(cuts)
        tally = replace(tally, cuts_done=tally.cuts_done + len(cuts), steps_left=left, finished=left == 0)
        self._append([step_event(self.job, step, None, None) for step in cuts], tally)

    def undo(self, *, whole: bool = False) -> tuple[Event, ...]:
        """Takes back what was done last and still stands, all or none, and returns it, the latest first.

        What one answer changed is always taken back together. Of several cuts that one key completed it is the latest,
        or all of them if `whole`.

        Raises:
            Stale, CoachError: as for `complete`.
        """
        latest = latest_key(self.events, self.undone)
        if not whole and all(event.kind in STEP_KINDS for event in latest):
            latest = latest[:1]
        if latest:
            self.change([undo_event(event) for event in latest])
        return tuple(latest)

    def after(self, events: Sequence[NewEvent]) -> Walker:
        """Where the walk would stand after `events`; nothing is written.

        Raises:
            CoachError: they can't be.
        """
        return fold([*self.events, *self._coming(events)])

    def _coming(self, events: Sequence[NewEvent]) -> list[Event]:
        number, at = self.events[-1].number, self.events[-1].at
        return [Event(number + index, at, kind, data) for index, (kind, data) in enumerate(events, 1)]

    def change(self, events: Sequence[NewEvent]) -> None:
        """Records a change of the batch, all of `events` or none.

        Raises:
            Stale, CoachError: as for `complete`.
        """
        coming = self._coming(events)
        try:
            self._course.take(coming, self.events.at_hand)
            self._write(events, tally_of(self.walker))
        except BaseException as error:
            self._course.forget(coming, self.events.at_hand)
            if isinstance(error, Stale):
                self.catch_up()
            raise

    def come_back(self, moment: datetime | None = None, *, stayed: bool = False, cuts: int = 1) -> bool:
        """Doubts the fence if the break was long: not the same day, or over ten minutes, or the clock went back.

        Args:
            stayed: the walk was on the screen all the time; then a fence that is just being set isn't doubted.
            cuts: how many the next key completes; so many take longer than one, so the break may be longer.

        Returns:
            whether it is doubted now, so that blade, guard, reading and a scrap cut come first.
        """
        if not self.away_too_long(moment, cuts) or not self.walker.cuts_left_in_all:
            return False
        if not self.walker.fence.confirmed and (self.walker.unprepared or (stayed and self._same_day(moment))):
            return False
        self._append([(RETURN, {})], tally_of(self.walker))
        return True

    def away_too_long(self, moment: datetime | None = None, cuts: int = 1) -> bool:
        """Whether the latest event is from another day, too long ago for so many cuts, or later than now."""
        still = max(STILL_THERE, cuts * LONGEST_CUT)
        return not self._same_day(moment) or not timedelta(0) <= (moment or now()) - self.last_at <= still

    def _same_day(self, moment: datetime | None) -> bool:
        here = moment or now()
        return self.last_at.astimezone(here.tzinfo).date() == here.date()

    def catch_up(self) -> int:
        """Reads what other windows have written; returns how many events that were."""
        newer = list(self._store.events(self.id, self.events[-1].number))
        if newer:
            self._course.take(newer, self.events.at_hand)
            self.events.add(newer)
        return len(newer)

    def _append(self, events: Sequence[NewEvent], tally: Tally) -> None:
        """Records events that follow from the walk, then moves it on."""
        try:
            written = self._write(events, tally)
        except Stale:
            self.catch_up()
            raise
        self._course.take(written, ())
        if self._snapshot + EVERY <= self.events[-1].number:
            self._keep_snapshot(self.events[-1].number, self._snapshot_data())

    def _write(self, events: Sequence[NewEvent], tally: Tally) -> list[Event]:
        assert isinstance(self._store, Store)  # a record that is only read isn't walked on
        latest = self.events[-1].number
        of_one_key = [(kind, {**data, "key": latest + 1}) for kind, data in events]
        written = self._store.append(self.id, latest, of_one_key, tally)
        self.events.add(written)
        if any(_reaches_behind(event, self._snapshot) for event in written):
            self._snapshot = 0  # what it was taken of is no longer so
        return written

    def _snapshot_data(self) -> str:
        """What the walk is now, to be kept."""
        from coach.record.batch.snapshots import snapshot_data

        return snapshot_data(self.walker, self._course.undos.pairs, self._started_job, self._started_settings)

    def _keep_snapshot(self, number: int, data: str) -> None:
        """Keeps what the walk was after the event of that number."""
        assert isinstance(self._store, Store)
        self._store.keep_snapshot(self.id, number, data)
        self._snapshot = number


def _reaches_behind(event: Event, number: int) -> bool:
    """Whether an event that comes after that number takes back one that doesn't."""
    return event.kind == UNDO and event.number > number >= event.data["number"]


def _quiet_place(events: Sequence[Event], at_most: int) -> int:
    """A number up to which no later event takes anything back, not larger than `at_most`; at least 2."""
    place = at_most
    for event in reversed(events):
        if event.kind == UNDO and event.number > place >= event.data["number"]:
            place = event.data["number"] - 1
    return max(2, place)


def start(store: Store, name: str, job: Job, settings: Settings, unit: Unit) -> Session:
    """A new batch of that name; CoachError if the name is taken or can't be one."""
    called = checked_name(name)
    events = start_events(job, settings, unit, called)
    row = store.start(called, events, Tally(job.cuts, 0, job.cuts, finished=False))
    return Session(store, row)


def checked_name(name: str) -> str:
    """`name` without blanks around it; CoachError if it can't be a batch's name."""
    why = clean_text(name)
    if why:
        raise CoachError(f"the batch's name {why}")
    return name.strip()


def name_after(layouts: Sequence[Layout]) -> str:
    """The name that a batch of `layouts` gets if nobody says otherwise."""
    name = " + ".join(layout.name for layout in layouts)
    return name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1].rstrip() + "…"


def unfinished_batch(store: Store, name: str) -> tuple[BatchRow | None, str]:
    """The unfinished batch called `name` (or `name 2`, `name 3` … where earlier ones are finished).

    Returns:
        that batch, or None with the name that a new batch should get.
    """
    number = 1
    called = name
    while (row := store.batch_named(called)) is not None:
        if not row.finished:
            return row, called
        number += 1
        tail = f" {number}"
        called = name[: LONGEST_NAME - len(tail)] + tail
    return None, called


def same_layouts(session: Session, layouts: Sequence[Layout]) -> bool:
    """Whether a batch was started with layouts equal to these."""
    kept = session.started_with["layouts"]
    return bool(kept == json.loads(json.dumps([layout_to_json(layout) for layout in layouts])))
