"""Checksums that link each event of a batch to the one before it, so that rot is seen where SQLite sees none.

A batch's chain begins with its name and when it was started; each link is BLAKE2 (of the standard library, and quicker
than SHA-2) over the link before and the event's number, time, kind and data, as they are stored. The row of the batch
holds the last link, so that a missing end is seen as well, and a seal over all else that it says.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from hashlib import blake2b

_BYTES = 16
SEALED_COLUMNS = "name, started, last, cuts, cuts_done, steps_left, finished, events, sum"
"""What of a batch's row its seal is over."""
CHAINED, SEALED = 2, 3
"""The versions of the schema from which on there are checksums, and seals of the batches' rows."""


def beginning(name: str, started: str) -> str:
    """The link before a batch's first event."""
    return _digest(f"{name}\n{started}")


def link(before: str, number: int, at: str, kind: str, data: str) -> str:
    """An event's link, in hexadecimal digits; `data` is the JSON text as it is stored."""
    return _digest(f"{before}\n{number}\n{at}\n{kind}\n{data}")


def last_link(name: str, started: str, rows: Iterable[tuple[int, str, str, str]]) -> str:
    """The link of the last of a batch's events, each as (number, at, kind, data)."""
    last = beginning(name, started)
    for number, at, kind, data in rows:
        last = link(last, number, at, kind, data)
    return last


def seal(*row: str | int) -> str:
    """What a batch's row is sealed with: over name, started, last, cuts, cuts_done, steps_left, finished (0 or 1),
    events and the last link, in this order, as they are stored."""
    return _digest("\n".join(map(str, row)))


def snapshot_sum(number: int, event_link: str, data: str) -> str:
    """The checksum of a snapshot, over what it says, and after which event."""
    return _digest(f"snapshot\n{number}\n{event_link}\n{data}")


def fault_in(connection: sqlite3.Connection) -> str | None:
    """What in a record isn't as it was written; None if all of it is.

    Raises:
        sqlite3.Error: it can't be read.
    """
    sealed = connection.execute("PRAGMA user_version").fetchone()[0] >= SEALED
    rows = f"SELECT id, {SEALED_COLUMNS}, {'seal' if sealed else repr('')} FROM batches"  # noqa: S608 - ours
    for batch, *row, stored_seal in connection.execute(rows):
        name, started, *_, count, last = row
        if sealed and seal(*row) != stored_seal:
            return f"the row of batch {batch} is not what was written"
        now, expected = beginning(str(name), str(started)), 1
        query = "SELECT number, at, kind, data, sum FROM events WHERE batch = ? ORDER BY number"
        for number, at, kind, data, stored in connection.execute(query, (batch,)):
            now = link(now, number, str(at), str(kind), str(data))
            if number != expected:
                return f"batch {batch} has no event {expected}"
            if now != stored:
                return f"event {number} of batch {batch} is not what was written"
            expected += 1
        if count != expected - 1 or now != last:
            return f"batch {batch} has {expected - 1} events; {count} were written"
    return None


def _digest(text: str) -> str:
    return blake2b(text.encode("utf-8", "surrogatepass"), digest_size=_BYTES).hexdigest()
