"""The log as CSV: a spreadsheet's columns, read back with the csv module and held against the events."""

from __future__ import annotations

import csv
import io
import re

from support.mid_batch import begun, even, tools
from support.small_batches import go, go_to
from support.small_jobs import plain

from coach.ground.terms import Hand
from coach.plan.judging.mistakes import Mistake
from coach.plan.steps import StepKind
from coach.record.batch import corrections
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.telling.log.lines import csv_lines


def rows(store: Store, session: Session) -> list[dict[str, str]]:
    text = "\n".join(csv_lines(store, [store.batch(session.id)]))
    return list(csv.DictReader(io.StringIO(text)))


def measured(store: Store) -> Session:
    session = begun(store, even(tools(0.9, 80.0, Hand.RIGHT, None, wide_leads=True)))
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.123456)
    go_to(session, StepKind.CUT)
    go(session, 2)
    return session


def test_each_event_has_its_setting_reading_measure_and_correction_in_columns_of_their_own(store: Store) -> None:
    session = measured(store)
    found = rows(store, session)
    assert len(found) == len(session.events)
    (check,) = [row for row in found if row["kind"] == "check" and row["measured_mm"]]
    # 30.5 mm asked for, 30.623456 measured: 0.12 mm less from here on.
    assert (check["setting"], check["mark_mm"], check["measured_mm"], check["correction_mm"]) == (
        "1",
        "30.5",
        "30.62",
        "-0.12",
    )
    fences = [event for event in session.events if event.kind == "set-fence"]
    assert [row["reading"] for row in found if row["kind"] == "set-fence"] == [
        event.data["reading"] or "" for event in fences
    ]
    cuts = [row for row in found if row["kind"] == "cut"]
    assert [(row["board"], row["end"], row["setting"]) for row in cuts] == [("side 1", "A", "1")] * 2


def test_day_and_time_stand_apart_and_millimetres_have_two_decimals_at_most(store: Store) -> None:
    for row in rows(store, measured(store)):
        assert (row["day"], row["time"]) == ("2031-03-04", "09:30:00")
        assert row["at"].startswith("2031-03-04T09:30:00")
        for name in ("mark_mm", "measured_mm", "correction_mm"):
            assert re.fullmatch(r"(-?\d+(\.\d{1,2})?)?", row[name]), row[name]


def test_why_a_board_or_a_cut_went_is_a_column(store: Store) -> None:
    session = measured(store)
    session.change(corrections.cut_wrong(session, session.events[-1], Mistake.TOO_DEEP, 0.4, plain)[1].events)
    session.change(corrections.spoil(session, 1, "a knot").events)
    found = {row["kind"]: row["reason"] for row in rows(store, session)}
    assert found["wrong"] == "too deep"
    assert found["spoil"] == "a knot"
