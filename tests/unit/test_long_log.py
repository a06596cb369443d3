"""A long log comes out at once and an event at a time: nobody waits for a batch of many events to be read whole."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from support.damaged_records import changed_in_every_way
from support.small_batches import go

from coach.ground.errors import CoachError
from coach.record.disk.store import Store
from coach.record.rows import NewEvent, Tally
from coach.telling.log.lines import csv_lines, json_lines, log_events

TALLY = Tally(8, 0, 12, finished=False)
EVENTS = 5000
CUT = ("cut", {"number": 1, "board": "side 1", "end": "A", "tail": 1, "faces": "top", "setting": 0, "mark_mm": 5.0})


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path) as opened:
        yield opened


def test_the_first_line_needs_one_page_of_events(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    row = store.start("drawers", [CUT] * EVENTS, TALLY)
    read: list[int] = []
    page = store._page

    def counted(batch: int, after: int) -> list[tuple[int, str, str, str, str]]:
        found = page(batch, after)
        read.append(len(found))
        return found

    monkeypatch.setattr(store, "_page", counted)
    assert next(log_events(store, [row]))["event"] == 1
    assert sum(read) < EVENTS


def test_an_event_far_before_its_undo_is_marked_as_undone(store: Store) -> None:
    row = store.start("drawers", [*[CUT] * EVENTS, ("undo", {"number": 1, "of": "cut"})], TALLY)
    undone = [event["event"] for event in log_events(store, [row]) if event.get("undone")]
    assert undone == [1]


def test_events_of_one_kind_come_in_order_and_of_one_batch_alone(store: Store) -> None:
    first = store.start("drawers", [CUT, ("undo", {"number": 1}), CUT, ("undo", {"number": 3})], TALLY)
    second = store.start("chest", [("undo", {"number": 9})], TALLY)
    assert [event.number for event in store.events_of_kind(first.id, "undo")] == [2, 4]
    assert [event.data for event in store.events_of_kind(second.id, "undo")] == [{"number": 9}]
    assert store.events_of_kind(first.id, "fit") == []


def test_lines_of_json_say_what_the_events_say(store: Store) -> None:
    session = changed_in_every_way(store)
    while session.next() is not None:
        go(session, 1)
    odd: list[NewEvent] = [
        ("cut", {"number": 1, "at": "noon", "setting": 7}),
        ("cut", {"number": 2, "board": 'a "b" \\ c', "setting": 0, "mark_mm": -1.5e-07}),
        ("cut", {"text": ', "setting":5', "setting": 5, "none": None, "yes": True, "no": False}),
        ("cut", {"setting": "two", "list": [1], "table": {"setting": 1}}),
        ("fit", {}),
        ("steam-bend", {"setting": 3}),
    ]
    row = store.start("odd", odd, TALLY)
    rows = [store.batch(session.id), row]
    assert json.loads("\n".join(json_lines(store, rows))) == list(log_events(store, rows))


def test_of_a_damaged_batch_comes_what_is_before_the_damage_and_the_others_come_whole(store: Store) -> None:
    first, second = (store.start(name, [CUT] * 20, TALLY) for name in ("drawers", "chest"))
    store._connection.execute("DROP TRIGGER events_no_update")
    store._connection.execute("UPDATE events SET data = '{}' WHERE batch = 1 AND number = 12")
    for form, per_event in ((json_lines, 1), (csv_lines, 1)):
        told: list[str] = []
        with pytest.raises(CoachError, match="“drawers” is damaged: event 12"):
            told.extend(form(store, [first, second]))
        lines = "\n".join(told).split("\n")
        assert len(lines) == 1 + (11 + 20) * per_event
    assert len(json.loads("\n".join(_until_it_ends(json_lines(store, [first, second]))))) == 31


def _until_it_ends(lines: Iterator[str]) -> Iterator[str]:
    try:
        yield from lines
    except CoachError:
        return
