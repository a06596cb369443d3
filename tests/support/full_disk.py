"""A process that goes on writing to a record while files may grow no further than so many bytes, as on a full disk."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

WRITES = """
import resource, signal, sys
from pathlib import Path
from coach.ground.errors import CoachError
from coach.record.disk.store import Store, Tally

signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
tally = Tally(8, 0, 12, False)

def room(size):
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))

before = int(sys.argv[2])
for size in map(int, sys.argv[3:]):
    folder = Path(sys.argv[1]) / str(size)
    with Store.open(folder) as store:
        number = store.start("drawers", [("cut", {"n": n, "pad": "x" * 300}) for n in range(before)], tally).events
    said, told, tries = "", 0, 0
    room(size)
    try:
        store = Store.open(folder)
    except CoachError as error:
        said = str(error)
    else:
        while tries < 60:
            tries += 1
            try:
                number = store.append(1, number, [("cut", {"pad": "x" * 300})], tally)[-1].number
            except CoachError as error:  # the person makes no room, and presses the key again
                said = str(error)
                told += 1
                if told == 3:
                    break
        if size % 2 == 0:
            room(resource.RLIM_INFINITY)
            number = store.append(1, number, [("cut", {})], tally)[-1].number
        store.close()
    room(resource.RLIM_INFINITY)
    with Store.open(folder) as store:
        found = [event.number for event in store.events(1)]
        tallied = store.batch(1).events
    print(size, number, len(found), tallied, int(found == list(range(1, len(found) + 1))), said.replace("\\n", " "))
"""


@dataclass(frozen=True)
class Filled:
    """What came of one size.

    Attributes:
        size: how far files might grow, in bytes.
        acknowledged: events that the writer was told are on disk.
        found: events that are.
        tallied: as the list of batches says.
        in_order: whether they are numbered without a gap.
        said: what the person was told when the disk was full; nothing if it never was.
    """

    size: int
    acknowledged: int
    found: int
    tallied: int
    in_order: bool
    said: str

    @property
    def lost(self) -> int:
        """How many acknowledged events are not there."""
        return self.acknowledged - self.found

    @property
    def sound(self) -> bool:
        """Whether just what was acknowledged is there, and what was told helps."""
        told = not self.said or ("nothing was written" in self.said and "--data DIR" in self.said)
        return self.acknowledged == self.found == self.tallied and self.in_order and told


def fill(folder: Path, sizes: Sequence[int], before: int = 20) -> list[Filled]:
    """A record of so many events for each size, added to until the disk is full three times in a row.

    With an even size there is room again in the end and one more event is added; with an odd one coach is left so.
    """
    done = subprocess.run(
        [sys.executable, "-c", WRITES, str(folder), str(before), *map(str, sizes)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found = []
    for line in done.stdout.splitlines():
        *numbers, in_order, said = line.split(" ", 5)
        size, acknowledged, events, tallied = map(int, numbers)
        found.append(Filled(size, acknowledged, events, tallied, in_order == "1", said))
    return found
