"""A record with a backup and later events, as bytes that can be damaged and laid down again and again."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from pathlib import Path

from support.small_batches import JOB, SETTINGS, Clock, go, go_to
from support.small_jobs import plain, two_tails

from coach.plan.deciding.decide import decide
from coach.plan.judging.mistakes import Mistake
from coach.plan.steps import StepKind
from coach.record.batch import corrections
from coach.record.batch.session import Session, start
from coach.record.disk.files import FILE_NAME
from coach.record.disk.store import Store
from coach.record.kinds import CHANGE_KINDS, MEND
from coach.record.rows import Event

PAGE = 4096
Batches = Mapping[str, tuple[Event, ...]]


@dataclass(frozen=True)
class Record:
    """A record's files.

    Attributes:
        file: `coach.db`, closed.
        backup: what its one backup holds, made when only part of the events were there.
        events: of each batch, in the whole record.
        backed_up: of each batch, in the backup.
    """

    file: bytes
    backup: bytes
    events: Batches
    backed_up: Batches

    @property
    def pages(self) -> int:
        """How many pages the file has."""
        return len(self.file) // PAGE

    def lay_down(self, folder: Path, file: bytes | None = None, *, backup: bool = True) -> Path:
        """Writes the files into `folder`, with `file` in the place of the sound one."""
        (folder / "backups").mkdir(parents=True)
        if backup:
            (folder / "backups" / "coach-20310304-120000.db").write_bytes(self.backup)
        (folder / FILE_NAME).write_bytes(self.file if file is None else file)
        return folder

    def with_page(self, page: int, content: bytes, at: int = 0) -> bytes:
        """The file with `content` written over a page (from 1), from byte `at` of it on."""
        begin = (page - 1) * PAGE + at
        return self.file[:begin] + content + self.file[begin + len(content) :]


def batches_in(folder: Path) -> dict[str, tuple[Event, ...]]:
    """Every batch of a record with its events."""
    with Store.open(folder) as store:
        return {row.name: tuple(store.events(row.id)) for row in store.batches()}


@cache
def record() -> Record:
    """Three batches: one finished before the backup, one under way, one begun after it."""
    clock = Clock()
    job = two_tails(boards=4, spares=1)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Store.open(folder, clock=clock) as store:
            first = start(store, "chest", two_tails(), decide(two_tails()), "mm")
            while first.next() is not None:
                clock.time += timedelta(seconds=4)
                go(first, 1)
            second = start(store, "drawers", job, decide(job), "mm")
            _walk(second, clock, 20)
            backup = store.backup_of_the_day()
            assert backup is not None
        backed_up = batches_in(folder)
        with Store.open(folder, clock=clock) as store:
            row = store.batch_named("drawers")
            assert row is not None
            _walk(Session(store, row), clock, 15)
            _walk(start(store, "late", job, decide(job), "in"), clock, 12)
        return Record((folder / FILE_NAME).read_bytes(), backup.read_bytes(), batches_in(folder), backed_up)


def changed_in_every_way(store: Store) -> Session:
    """A batch under way in which each kind of change has happened."""
    session = start(store, "changed", JOB, SETTINGS, "mm")
    go_to(session, StepKind.CUT)
    go(session, 2)
    session.change(corrections.take_back(session, session.events[-1], "mis-pressed").events)
    session.change(corrections.add_boards(session, 1, 2, spare=True)[1].events)
    session.change(corrections.label(session, 2, "best side").events)
    session.change(corrections.put_aside(session, 1).events)
    session.change(corrections.take_up(session, 1).events)
    session.change(corrections.skip(session, 1).events)
    session.change(corrections.finish_first(session, 2).events)
    session.change(corrections.set_first(session, 1).events)
    cut = next(event for event in session.events if event.kind == StepKind.CUT)
    mended = corrections.cut_wrong(session, cut, Mistake.OFF_LINE, 0.6, plain)[1]
    assert MEND in [kind for kind, _ in mended.events]
    session.change(mended.events)
    session.change(corrections.spoil(session, 1, "knot").events)
    session.change(corrections.drop(session, 4).events)
    session.change(corrections.change_shop(session, JOB.shop, plain).events)
    assert {event.kind for event in session.events} >= CHANGE_KINDS
    return session


def _walk(session: Session, clock: Clock, steps: int) -> None:
    for number in range(steps):
        clock.time += timedelta(seconds=4)
        go(session, 1)
        if number % 7 == 6:
            session.undo()
