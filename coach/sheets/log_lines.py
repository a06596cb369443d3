"""The log for other programs: every event of a batch as JSON or CSV, a line at a time."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from typing import Any

from coach.record.kinds import CHANGE_KINDS, START, STEP_KINDS, UNDO, WRONG
from coach.record.reader import Reader
from coach.record.rows import BatchRow, Event
from coach.record.taking_back import undone_numbers

COLUMNS = (
    *("at", "day", "time", "kind", "batch", "board", "end", "tail", "faces", "edge", "setting", "reading", "mark_mm"),
    *("measured_mm", "correction_mm", "reason", "undone"),
)
_LEFT_OUT = frozenset({"layouts", "shop", "serves", "own", "settings"})


def log_events(store: Reader, rows: Iterable[BatchRow]) -> Iterator[dict[str, Any]]:
    """Every event of the batches, oldest first within each, as plain JSON values."""
    for row in rows:
        undone = undone_numbers(store.events_of_kind(row.id, UNDO))
        for event in store.events(row.id):
            yield event_as_json(row.name, event, undone=event.number in undone)


def event_as_json(batch: str, event: Event, *, undone: bool) -> dict[str, Any]:
    """One event; a step says whether it was undone."""
    found: dict[str, Any] = {"at": event.at, "kind": event.kind, "batch": batch, "event": event.number}
    data = {key: value for key, value in event.data.items() if key not in _LEFT_OUT}
    if event.kind == UNDO:
        data["event_undone"] = data.pop("number")
    if event.kind == START:
        data["layouts"] = [layout["name"] for layout in event.data["layouts"]]
        data["sample_shop"] = event.data["shop"]["sample"]
    if "setting" in data:
        data["setting"] += 1
    found |= data
    if event.kind in STEP_KINDS | CHANGE_KINDS:
        found["undone"] = undone
    return found


def json_lines(events: Iterable[dict[str, Any]]) -> Iterator[str]:
    """One JSON list, an event a line."""
    before = "["
    for event in events:
        yield before + json.dumps(event, ensure_ascii=False)
        before = ","
    yield "[]" if before == "[" else "]"


def csv_lines(events: Iterable[dict[str, Any]]) -> Iterator[str]:
    """CSV with a heading, day and time apart, millimetres to a hundredth; cells that a spreadsheet would take for a
    formula are quoted with an apostrophe."""
    yield _csv_line(COLUMNS)
    for event in events:
        row = {**event, "day": event["at"][:10], "time": event["at"][11:19]}
        if row.get("measured_mm") is not None:
            row["correction_mm"] = row["mark_mm"] - row["measured_mm"]
        if row["kind"] == WRONG:
            row |= {"reason": row["mistake"], "measured_mm": None, "correction_mm": None}
        yield _csv_line([_cell(row.get(column)) for column in COLUMNS])


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")
    text = str(value)
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def _csv_line(cells: Iterable[str]) -> str:
    line = io.StringIO()
    csv.writer(line, lineterminator="").writerow(cells)
    return line.getvalue()
