"""The log for other programs: every event of a batch as JSON or CSV, a line at a time, and quickly."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Container, Iterable, Iterator, Mapping
from json import JSONEncoder
from typing import Any

from coach.ground.errors import CoachError
from coach.record.batch.taking_back import undone_numbers
from coach.record.disk.reader import Reader
from coach.record.kinds import CHANGE_KINDS, START, STEP_KINDS, UNDO, WRONG
from coach.record.rows import BatchRow, Event

COLUMNS = (
    *("at", "day", "time", "kind", "batch", "board", "end", "tail", "faces", "edge", "setting", "reading", "mark_mm"),
    *("measured_mm", "correction_mm", "reason", "undone"),
)
_LEFT_OUT = frozenset({"layouts", "shop", "serves", "own", "settings"})
_MAY_BE_UNDONE = STEP_KINDS | CHANGE_KINDS
_FORMULAS = frozenset("=+-@\t\r")
_LINES = 500

# What a step says is flat, so its text needs only another head and tail; whatever is not just so is taken apart.
_FLAT = re.compile(
    r'\{(?:"(?!at"|kind"|batch"|event"|undone")[a-z_]+":'
    r'(?:"[^"\\\x00-\x1f]*"|-?(?:0|[1-9]\d*)(?:\.\d+)?(?:e[-+]?\d+)?|null|true|false)(?:,(?=")|(?=\})))+\}'
)
_MOMENT = re.compile(r"[0-9T:.+Z-]+")
_SETTING = re.compile(r'"setting":(\d+)')
_encoded = JSONEncoder(ensure_ascii=False).encode


def log_events(store: Reader, rows: Iterable[BatchRow]) -> Iterator[dict[str, Any]]:
    """Every event of the batches, oldest first within each, as plain JSON values.

    Raises:
        CoachError: of batches that are damaged, once all that comes before the damage, and all other batches, were
            given.
    """
    for row, undone, number, at, kind, data in _texts(store, rows):
        event = store.event_of(row.id, number, at, kind, data)
        yield event_as_json(row.name, event, undone=number in undone)


def event_as_json(batch: str, event: Event, *, undone: bool) -> dict[str, Any]:
    """One event; a step says whether it was undone."""
    found: dict[str, Any] = {"at": event.at, "kind": event.kind, "batch": batch, "event": event.number}
    data = {key: value for key, value in event.data.items() if key not in _LEFT_OUT}
    if event.kind == UNDO and "number" in data:
        data["event_undone"] = data.pop("number")
    if event.kind == START:
        data |= _of_start(event.data)
    if type(data.get("setting")) is int:
        data["setting"] += 1
    found |= data
    if event.kind in _MAY_BE_UNDONE:
        found["undone"] = undone
    return found


def _of_start(data: Mapping[str, Any]) -> dict[str, Any]:
    """The names of the layouts, and whether the shop is the sample."""
    try:
        return {"layouts": [layout["name"] for layout in data["layouts"]], "sample_shop": data["shop"]["sample"]}
    except (LookupError, TypeError):  # whoever opens the batch is told
        return {}


def json_lines(store: Reader, rows: Iterable[BatchRow]) -> Iterator[str]:
    """One JSON list of all that `log_events` gives, an event a line; several lines at once.

    Raises:
        CoachError: as `log_events`; the list is whole all the same.
    """
    before, lines = "[", list[str]()
    wrong: tuple[str, ...] = ()
    names: dict[int, str] = {}
    try:
        for row, undone, number, at, kind, data in _texts(store, rows):
            name = names.setdefault(row.id, _encoded(row.name))
            if kind in STEP_KINDS and _FLAT.fullmatch(data) and _MOMENT.fullmatch(at):
                more = _SETTING.sub(_one_more, data, count=1)
                lines.append(
                    f'{before}{{"at":"{at}","kind":"{kind}","batch":{name},"event":{number},'
                    f'{more[1:-1]},"undone":{"true" if number in undone else "false"}}}'
                )
            else:
                event = store.event_of(row.id, number, at, kind, data)
                lines.append(before + _encoded(event_as_json(row.name, event, undone=number in undone)))
            before = ","
            if len(lines) == _LINES:
                yield "\n".join(lines)
                lines = []
    except CoachError as error:
        wrong = error.problems
    yield "\n".join([*lines, "[]" if before == "[" else "]"])
    if wrong:
        raise CoachError(*wrong)


def _one_more(found: re.Match[str]) -> str:
    return f'"setting":{int(found[1]) + 1}'


def csv_lines(store: Reader, rows: Iterable[BatchRow]) -> Iterator[str]:
    """CSV with a heading, day and time apart, millimetres to a hundredth; cells that a spreadsheet would take for a
    formula are quoted with an apostrophe. Several lines at once.

    Raises:
        CoachError: as `log_events`.
    """
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    writer.writerow(COLUMNS)
    count = 0
    wrong: tuple[str, ...] = ()
    try:
        for row, undone, number, at, kind, data in _texts(store, rows):
            found = store.event_of(row.id, number, at, kind, data).data
            taken_back = number in undone if kind in _MAY_BE_UNDONE else None
            writer.writerow(_row(at, kind, row.name, found, taken_back))
            count += 1
            if count % _LINES == 0:
                yield lines.getvalue()[:-1]
                lines.seek(0)
                lines.truncate()
    except CoachError as error:
        wrong = error.problems
    if rest := lines.getvalue():
        yield rest[:-1]
    if wrong:
        raise CoachError(*wrong)


def _row(at: str, kind: str, batch: str, data: Mapping[str, Any], undone: bool | None) -> list[str]:
    found = data.get
    measured, mark, reason, correction = found("measured_mm"), found("mark_mm"), found("reason"), None
    setting = found("setting")
    if kind == WRONG:
        reason, measured = found("mistake"), None
    elif isinstance(measured, float | int) and isinstance(mark, float | int):
        correction = mark - measured
    cells = (
        *(batch, found("board"), found("end"), found("tail"), found("faces"), found("edge")),
        *(setting + 1 if type(setting) is int else setting, found("reading"), mark, measured, correction, reason),
        undone,
    )
    return [at, at[:10], at[11:19], kind, *map(_cell, cells)]


def _cell(value: object) -> str:
    if value is None:
        return ""
    if type(value) is str:
        return f"'{value}" if value[:1] in _FORMULAS else value
    if value is True or value is False:
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")
    return str(value)


def _texts(store: Reader, rows: Iterable[BatchRow]) -> Iterator[tuple[BatchRow, Container[int], int, str, str, str]]:
    """Each event as it is stored, with its batch and what of that is taken back; what is damaged is told at the end."""
    wrong: list[str] = []
    for row in rows:
        try:
            undone = undone_numbers(store.events_of_kind(row.id, UNDO))
            for number, at, kind, data in store.texts(row.id):
                yield row, undone, number, at, kind, data
        except CoachError as error:
            wrong += error.problems
        except (LookupError, TypeError):
            wrong += store.rotten(row.id, "what is taken back can't be told").problems
    if wrong:
        raise CoachError(*wrong)
