"""What is left of a record when its files are torn, flipped or find no room: never less than what was whole on disk."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from support.full_disk import fill
from support.killed_record import LOG_HEADER, Killed, transactions

from coach.record.disk.backups import ABANDONED_S
from coach.record.disk.store import Store
from coach.record.rows import Tally

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="kills, limits and capabilities as Linux has them")

TALLY = Tally(8, 0, 12, finished=False)
EVERY, EVERY_OF_NEW = 8, 64
"""Between the borders of frames so many bytes are left out; tests/bench/torn.py leaves out none."""


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> Killed:
    """Two events acknowledged after four that had come into the base."""
    return Killed.after(tmp_path_factory.mktemp("killed"), kept=4, more=2)


@pytest.fixture(scope="module")
def killed_new(tmp_path_factory: pytest.TempPathFactory) -> Killed:
    """Five events acknowledged in a record that was made a moment before the kill."""
    return Killed.after(tmp_path_factory.mktemp("new"), kept=0, more=5)


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    """A folder in memory where there is one: thousands of records are opened, and only what is read matters."""
    memory = Path("/dev/shm")  # noqa: S108 - the folder in it has a name of its own
    if not (memory.is_dir() and os.access(memory, os.W_OK)):
        yield tmp_path / "x"
        return
    with tempfile.TemporaryDirectory(dir=memory) as made:
        yield Path(made) / "x"


def lengths(killed: Killed, every: int) -> list[int]:
    """Lengths of a torn log: at, before and after each border, and some between."""
    borders = [0, LOG_HEADER, *killed.frames, *(frame + 24 for frame in killed.frames), len(killed.log)]
    near = {border + off for border in borders for off in (-1, 0, 1)}
    return sorted(length for length in near | set(range(0, len(killed.log), every)) if 0 <= length <= len(killed.log))


def test_a_killed_process_leaves_all_that_it_acknowledged(folder: Path, killed: Killed, killed_new: Killed) -> None:
    assert killed.count(folder, killed.log) == killed.events == 6
    assert killed_new.count(folder, killed_new.log) == killed_new.events == 5


def test_a_log_torn_anywhere_keeps_every_event_that_is_whole_in_it(folder: Path, killed: Killed) -> None:
    for length in lengths(killed, EVERY):
        assert killed.count(folder, killed.log[:length]) == killed.sound(length), length


def test_a_new_record_s_log_torn_anywhere_keeps_every_event_that_is_whole_in_it(
    folder: Path, killed_new: Killed
) -> None:
    for length in lengths(killed_new, EVERY_OF_NEW):
        assert killed_new.count(folder, killed_new.log[:length]) == killed_new.sound(length), length


@pytest.mark.parametrize("rest", [b"\0", b"\xa5", b"wood"], ids=["zeros", "one byte", "words"])
def test_a_log_whose_end_never_reached_the_disk_keeps_the_events_before_it(
    folder: Path, killed: Killed, rest: bytes
) -> None:
    for length in lengths(killed, len(killed.log)):
        log = (killed.log[:length] + rest * len(killed.log))[: len(killed.log)]
        assert killed.count(folder, log) == killed.sound(length), length


def test_a_log_with_one_bit_flipped_is_refused_if_entries_follow_and_else_keeps_every_event_before_it(
    folder: Path, killed: Killed
) -> None:
    chance = random.Random(8)  # noqa: S311 - it has to be the same again
    for at in [*range(LOG_HEADER), *range(LOG_HEADER, len(killed.log), 61)]:
        log = bytearray(killed.log)
        log[at] ^= 1 << chance.randrange(8)
        before = max((frame for frame in killed.frames if frame <= at), default=0)
        # Each frame's checksum goes on from the one before it, so without that one the last can't be told from rubbish.
        alone = before == killed.frames[-2] and at - before in range(16, 24)
        followed = before < killed.frames[-1] and not alone
        assert killed.count(folder, bytes(log)) == (None if followed else killed.sound(before)), at


def test_a_log_that_has_started_over_keeps_every_event_that_is_whole_in_it(tmp_path: Path, folder: Path) -> None:
    killed = Killed.after(tmp_path / "live", kept=4, more=340)
    assert 4 < killed.kept < killed.events == 344
    assert killed.frames[-1] + 5000 < len(killed.log)  # old frames follow, which no longer count
    for length in lengths(killed, len(killed.log)):
        if length > LOG_HEADER:
            assert killed.count(folder, killed.log[:length]) == killed.sound(length), length


def test_work_goes_on_after_a_torn_log(tmp_path: Path, killed: Killed) -> None:
    killed.count(tmp_path / "x", killed.log[: killed.ends[0] + 2000])
    with Store.open(tmp_path / "x") as store:
        assert store.append(1, 5, [("cut", {})], TALLY)[0].number == 6
    with Store.open(tmp_path / "x") as store:
        assert store.latest(1) == 6


def test_the_log_s_transactions_are_one_for_each_event(killed: Killed) -> None:
    frames, ends = transactions(killed.log)
    assert len(ends) == killed.events - killed.kept
    assert ends[-1] == len(killed.log)
    assert frames[0] == LOG_HEADER


def test_a_disk_that_is_full_at_any_moment_costs_no_acknowledged_event(tmp_path: Path) -> None:
    for filled in fill(tmp_path, range(0, 120_000, 1501)):
        assert filled.sound, filled


def test_a_log_that_finds_no_room_in_the_base_is_kept(tmp_path: Path) -> None:
    for filled in fill(tmp_path, range(33_001, 80_000, 4096), before=400):  # a base of about 150 kB
        assert filled.sound, filled
        assert (tmp_path / str(filled.size) / "coach.db").stat().st_size > 100_000


def test_a_backup_that_a_kill_has_left_half_made_is_cleared_away_in_time(tmp_path: Path) -> None:
    (tmp_path / "backups").mkdir()
    old, new = (tmp_path / "backups" / f"coach-20310304-093000.{process}.part" for process in (11, 12))
    for part in (old, new):
        part.write_bytes(b"half")
    moment = time.time() - ABANDONED_S - 10
    os.utime(old, (moment, moment))
    with Store.open(tmp_path) as store:
        store.start("drawers", [("cut", {})], TALLY)
        made = store.backup_of_the_day()
    assert set((tmp_path / "backups").iterdir()) == {made, new}


READ_ONLY = """
import ctypes, sys
from pathlib import Path
from coach.ground.errors import CoachError
from coach.record.disk.store import Store
header = (ctypes.c_uint32 * 2)(0x20080522, 0)
# A superuser's process may write whatever the modes say; without its capabilities it is like any other's.
assert ctypes.CDLL(None, use_errno=True).capset(header, (ctypes.c_uint32 * 6)()) == 0
try:
    Store.open(Path(sys.argv[1])).close()
except CoachError as error:
    print(error)
"""


@pytest.mark.parametrize("what", ["folder", "file", "log"])
def test_a_killed_record_that_is_read_only_is_refused_untouched(tmp_path: Path, killed: Killed, what: str) -> None:
    files = {"coach.db": killed.base, "coach.db-wal": killed.log}
    for name, data in files.items():
        (tmp_path / name).write_bytes(data)
    locked = {"folder": tmp_path, "file": tmp_path / "coach.db", "log": tmp_path / "coach.db-wal"}[what]
    mode = locked.stat().st_mode
    locked.chmod(mode & ~0o222)
    done = subprocess.run([sys.executable, "-c", READ_ONLY, str(tmp_path)], capture_output=True, text=True, check=False)
    assert "the record cannot be kept here" in done.stdout, done.stderr
    locked.chmod(mode)
    assert {name: (tmp_path / name).read_bytes() for name in files} == files
    assert killed.count(tmp_path / "x", (tmp_path / "coach.db-wal").read_bytes()) == killed.events
