"""The files that a killed process leaves of a record, and what its write-ahead log must give back when it is torn.

The log's format is taken from its description, "The WAL File Format" in SQLite's "Database File Format" (from memory):
a header of 32 bytes, then frames, each a header of 24 bytes and a page. Bytes 8 to 11 of the log's header are the page
size; bytes 4 to 7 of a frame's header are zero but in the last frame of a transaction; bytes 8 to 15 of it repeat bytes
16 to 23 of the log's header, or the frame is left over from before.
"""

from __future__ import annotations

import shutil
import signal
import struct
import subprocess
import sys
from bisect import bisect_right
from dataclasses import dataclass
from pathlib import Path

from coach.ground.errors import CoachError
from coach.record.disk.store import Store
from coach.record.rows import Event

LOG_HEADER, FRAME_HEADER = 32, 24
BATCH = "drawers"

WRITES = """
import signal, sys
from pathlib import Path
from coach.record.disk.store import Store, Tally
folder, kept, more = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
tally = Tally(8, 0, 12, False)
data = {"board": "side 1", "end": "A", "pad": "x" * 200}
if kept:
    with Store.open(folder) as store:
        store.start("drawers", [("cut", {"n": n, **data}) for n in range(1, kept + 1)], tally)
store = Store.open(folder)
if not kept:
    store.start("drawers", [("cut", {"n": 1, **data})], tally)
    kept, more = 1, more - 1
for number in range(kept, kept + more):
    store.append(1, number, [("cut", {"n": number + 1, **data})], tally)
print(store.latest(1), flush=True)
signal.pause()
"""


@dataclass(frozen=True)
class Killed:
    """What a killed process has left.

    Attributes:
        base, log: the bytes of `coach.db` and of its write-ahead log.
        kept: how many events were in the base already, with the log away.
        events: how many the process had acknowledged in all.
        ends: where in the log the transaction of each event after `kept` is complete, ascending.
        frames: where the frames begin.
    """

    base: bytes
    log: bytes
    kept: int
    events: int
    ends: tuple[int, ...]
    frames: tuple[int, ...]

    @classmethod
    def after(cls, folder: Path, kept: int, more: int) -> Killed:
        """A process that acknowledges `more` events, one transaction each, and is killed; `kept` came before it."""
        with subprocess.Popen(
            [sys.executable, "-c", WRITES, str(folder), str(kept), str(more)], stdout=subprocess.PIPE, text=True
        ) as process:
            assert process.stdout is not None
            events = int(process.stdout.readline())
            process.send_signal(signal.SIGKILL)
        assert events == kept + more
        log = (folder / "coach.db-wal").read_bytes()
        frames, commits = transactions(log)
        # Before the first event of a new record come the transactions that make its tables; a long log starts over.
        ends = commits[-more:]
        return cls((folder / "coach.db").read_bytes(), log, events - len(ends), events, tuple(ends), tuple(frames))

    def sound(self, up_to: int) -> int:
        """How many events are whole if the log is good up to byte `up_to` and torn from there."""
        return self.kept + bisect_right(self.ends, up_to)

    def found(self, folder: Path, log: bytes) -> list[Event]:
        """The events of the record with another log, opened as coach does.

        Raises:
            CoachError: it can't be opened or read.
        """
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        (folder / "coach.db").write_bytes(self.base)
        (folder / "coach.db-wal").write_bytes(log)
        with Store.open(folder) as store:
            row = store.batch_named(BATCH)
            events = [] if row is None else list(store.events(row.id))
            assert row is None or row.events == len(events), "the tally isn't of the same moment as the events"
        return events

    def count(self, folder: Path, log: bytes) -> int | None:
        """How many events the record with another log holds, from the first on without a gap; None if refused."""
        try:
            events = self.found(folder, log)
        except CoachError:
            return None
        assert [(event.number, event.data["n"]) for event in events] == [(n, n) for n in range(1, len(events) + 1)]
        return len(events)


def transactions(log: bytes) -> tuple[list[int], list[int]]:
    """Where a write-ahead log's frames begin, and where its transactions end."""
    page_size = struct.unpack_from(">I", log, 8)[0]
    frames, ends = [], []
    at = LOG_HEADER
    while at + FRAME_HEADER + page_size <= len(log) and log[at + 8 : at + 16] == log[16:24]:
        frames.append(at)
        end = at + FRAME_HEADER + page_size
        if struct.unpack_from(">I", log, at + 4)[0]:
            ends.append(end)
        at = end
    return frames, ends
