"""What a recovery has kept beside a batch without counting it, in lines."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import groupby

from coach.record.json_text import shown
from coach.record.moments import is_moment
from coach.record.rows import Event, Leftover
from coach.telling.log.boards import when

_TOLD = ("board", "end", "tail", "faces", "setting", "topic", "of")


def leftover_lines(leftovers: Sequence[Leftover], now: datetime) -> list[str]:
    """A heading, then for each reason the entries that were kept for it."""
    if not leftovers:
        return []
    lines = ["Kept by a recovery, but not counted: look at the boards, and cut or skip what is asked for accordingly."]
    for why, kept in groupby(leftovers, key=lambda one: one.why):
        lines.append(f"{why[:1].upper()}{why[1:]}:")
        lines += [f"  entry {one.event.number}, {_when(one.event.at, now)}: {_words(one.event)}" for one in kept]
    return lines


def _when(at: str, now: datetime) -> str:
    return when(at, now) if is_moment(at) else "at no time"


def _words(event: Event) -> str:
    """What an entry says, whatever it holds."""
    told = []
    for key in _TOLD:
        value = event.data.get(key)
        if value is None or isinstance(value, list | dict):
            continue
        if key == "setting" and type(value) is int:
            value += 1
        text = value if isinstance(value, str) and value.isprintable() else shown(value)
        told.append(f"{key} {text[:60]}")
    return " ".join((event.kind if event.kind.isprintable() else shown(event.kind), ", ".join(told))).strip()
