"""A long log comes out at once and an event at a time: nobody waits for a batch of many events to be read whole."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from coach.record.rows import Tally
from coach.record.store import Store
from coach.sheets.log_lines import log_events

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
