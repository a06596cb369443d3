"""What the walk's screen says of the steps that are done, and what lies on disk of them, both without asking coach."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from support.terminal import Terminal

BENCH_KINDS = ("clear", "transfer", "saw-pin", "fit")
STEPS = ("prepare", "set-fence", "check", "cut", *BENCH_KINDS)
Event = Mapping[str, Any]

CUTS = re.compile(r"\b(\d+)(?: of \d+ cuts(?: done|,)|/\d+ cuts\b)")
BENCH = re.compile(r"\b(\d+) of \d+ steps done, no cut is left")
RECENT = re.compile(r"\d\d:\d\d:\d\d  (?:cut|done): .*")


@dataclass(frozen=True)
class Seen:
    """What the walk's screen says of the steps that are done, or None for what isn't on it.

    Attributes:
        cuts: how many.
        bench: how many steps at the bench.
        latest: the latest step, with its time.
    """

    cuts: int | None
    bench: int | None
    latest: str | None

    @classmethod
    def on(cls, terminal: Terminal) -> Seen | None:
        """What `terminal` shows, or None if it isn't the walk, or if nothing of it can be read."""
        if not any(line.strip().startswith("space done") for line in terminal.lines):
            return None
        recent = [line.strip() for line in terminal.lines if RECENT.fullmatch(line.strip())]
        seen = cls(_number(CUTS, terminal), _number(BENCH, terminal), recent[0] if recent else None)
        return None if seen == cls(None, None, None) else seen

    def parts(self) -> tuple[Seen, Seen, Seen]:
        """Each of them by itself: of a half-painted screen one may be of the step before."""
        return Seen(self.cuts, None, None), Seen(None, self.bench, None), Seen(None, None, self.latest)


@dataclass(frozen=True)
class State:
    """Where a batch stands after some of its events, as they lie on disk."""

    steps: tuple[Event, ...]

    def fits(self, seen: Seen) -> bool:
        """Whether the screen said just this."""
        cuts = sum(step["kind"] == "cut" for step in self.steps)
        bench = sum(step["kind"] in BENCH_KINDS for step in self.steps)
        return seen.cuts in (None, cuts) and seen.bench in (None, bench) and self._fits_latest(seen.latest)

    def _fits_latest(self, said: str | None) -> bool:
        if said is None:
            return True
        if not self.steps:
            return False
        step = self.steps[-1]
        moment = datetime.fromisoformat(step["at"])
        if step["kind"] != "cut":
            return said.startswith(f"{moment:%H:%M:%S}  done: ")
        turn = f", {step['turn']}" if step["turn"] else ""
        side = f"end {step['end']}, tail {step['tail']}, {step['faces']} side"
        return said == f"{moment:%H:%M:%S}  cut: {step['board']}{turn}: {side}"


def events_on_disk(data: Path, batch: str) -> list[Event]:
    """The events of a batch, read from a copy, so that whoever opens the record next finds it as the kill left it."""
    if not (data / "coach.db").exists():
        return []
    with tempfile.TemporaryDirectory() as folder:
        for name in ("coach.db", "coach.db-wal"):
            if (data / name).exists():
                shutil.copy(data / name, folder)
        with closing(sqlite3.connect(Path(folder) / "coach.db")) as connection:
            if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'events'").fetchone():
                return []
            rows = connection.execute(
                "SELECT events.number, at, kind, data FROM events JOIN batches ON batch = batches.id "
                "WHERE name = ? ORDER BY events.number",
                (batch,),
            ).fetchall()
    assert [row[0] for row in rows] == list(range(1, len(rows) + 1)), "the events' numbers have gaps"
    return [{**json.loads(data), "event": number, "at": at, "kind": kind} for number, at, kind, data in rows]


def standing(events: Sequence[Event]) -> list[Event]:
    """The steps that are done and not taken back."""
    # An undo's own data holds the number of the event that it takes back.
    undone = {event["number"] for event in events if event["kind"] == "undo"}
    return [event for event in events if event["kind"] in STEPS and event["event"] not in undone]


def _number(pattern: re.Pattern[str], terminal: Terminal) -> int | None:
    found = pattern.search(terminal.words)
    return None if found is None else int(found[1])
