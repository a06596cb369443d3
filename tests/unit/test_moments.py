"""Times in the record: whatever the program writes it reads again, order comes from numbers, a wrong clock is said."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from io import StringIO
from pathlib import Path

import pytest
from support.small_batches import JOB, MORNING, SETTINGS, Clock, go

from coach.ground.errors import CoachError
from coach.plain.lines import Lines
from coach.plain.walk import PlainWalk
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.record.exchange import export_batch, import_batch
from coach.record.moments import clock_doubt, is_moment, written
from coach.record.rescue.recovery import recover
from coach.talk.context import Context

# From memory: Liberia kept the time of its own meridian, 44 minutes and 30 seconds behind Greenwich, until 1972, so a
# clock that starts at its epoch there shows an offset with seconds.
MONROVIA = timezone(-timedelta(minutes=44, seconds=30))
WEST = timezone(-timedelta(hours=8))
ODD_CLOCKS = (
    datetime(1970, 1, 1, tzinfo=UTC).astimezone(WEST),
    datetime(1970, 1, 1, tzinfo=UTC).astimezone(MONROVIA),
    datetime(1901, 12, 13, 20, 45, 52, tzinfo=UTC),  # the least that 32 bits hold
    datetime(2, 1, 1, tzinfo=UTC),
    datetime(2038, 1, 19, 3, 14, 8, tzinfo=UTC),
    datetime(9998, 12, 31, 23, 59, 59, 999_999, tzinfo=WEST),
)


def standing(moment: datetime) -> Clock:
    clock = Clock()
    clock.time = moment
    return clock


@pytest.mark.parametrize("moment", ODD_CLOCKS, ids=str)
def test_what_is_written_is_read(moment: datetime) -> None:
    text = written(moment)
    assert is_moment(text)
    assert abs(datetime.fromisoformat(text) - moment) < timedelta(milliseconds=1)


@pytest.mark.parametrize("moment", ODD_CLOCKS, ids=str)
def test_a_batch_of_an_odd_clock_is_exported_imported_and_carried_on(tmp_path: Path, moment: datetime) -> None:
    with Store.open(tmp_path / "here", clock=standing(moment)) as store:
        session = start(store, "early", JOB, SETTINGS, "mm")
        go(session, 9)
        text = "".join(export_batch(store, store.batch(session.id)))
        assert store.backup_of_the_day() is not None
        assert store.backup_of_the_day() is None
    with Store.open(tmp_path / "there", clock=standing(moment)) as other:
        row = import_batch(other, text, name=None)
        carried_on = Session(other, row)
        assert carried_on.events == session.events
        carried_on.come_back(moment)
        go(carried_on, 1)


def test_a_record_of_1969_is_sound_to_recover(tmp_path: Path) -> None:
    with Store.open(tmp_path, clock=standing(ODD_CLOCKS[0])) as store:
        go(start(store, "early", JOB, SETTINGS, "mm"), 9)
    with pytest.raises(CoachError, match="sound"):
        recover(tmp_path, clock=standing(ODD_CLOCKS[0]))


@pytest.mark.parametrize("year", [1, 9999])
def test_a_clock_that_cannot_be_kept_is_refused_before_anything_is_written(tmp_path: Path, year: int) -> None:
    clock = standing(MORNING)
    with Store.open(tmp_path, clock=clock) as store:
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        clock.time = datetime(year, 6, 1, tzinfo=UTC)
        with pytest.raises(CoachError, match=r"set the clock"):
            go(session, 1)
        assert store.latest(session.id) == 2


@pytest.mark.parametrize(
    "text",
    [
        "",
        "soon",
        "0000-01-01T00:00:00Z",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-11:00",
        "2031-03-04T09:30:00",
        "2031-02-30T09:30:00Z",
        "2031-03-04 09:30:00Z",
        "2031-03-04T09:30:00.1Z",
    ],
)
def test_junk_is_no_time(text: str) -> None:
    assert not is_moment(text)


def test_the_batch_worked_on_last_comes_first_whatever_the_clock_said(tmp_path: Path) -> None:
    clock = standing(datetime(2100, 1, 1, tzinfo=UTC))
    with Store.open(tmp_path, clock=clock) as store:
        start(store, "first", JOB, SETTINGS, "mm")
        clock.time = MORNING
        start(store, "second", JOB, SETTINGS, "mm")
        assert [row.name for row in store.batches()] == ["second", "first"]


def test_a_clock_before_the_program_was_made_or_before_the_latest_entry_is_doubted() -> None:
    assert clock_doubt(MORNING, MORNING - timedelta(days=3)) is None
    assert clock_doubt(MORNING, MORNING + timedelta(seconds=50)) is None
    assert "latest entry" in (clock_doubt(MORNING, MORNING + timedelta(seconds=70)) or "")
    assert "before this program was made" in (clock_doubt(ODD_CLOCKS[0], ODD_CLOCKS[0]) or "")


def test_the_plain_walk_says_once_that_the_clock_is_wrong(tmp_path: Path) -> None:
    early = MORNING - timedelta(hours=2)
    with Store.open(tmp_path, clock=standing(MORNING)) as store:
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        target = StringIO()
        context = Context(store, now=standing(early))
        for _ in range(2):
            PlainWalk(context, session, Lines(StringIO("q\n"), target, plain=False), guarded=False).run()
    assert " ".join(target.getvalue().split()).count("The computer's clock says 2031-03-04 07:30") == 1
