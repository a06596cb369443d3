"""Random damage to a record's files, and what the commands then make of it, held against what was written."""

from __future__ import annotations

import contextlib
import io
import random
import shutil
import signal
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from functools import cache
from pathlib import Path

from support.small_batches import Clock, go
from support.small_jobs import two_tails

from coach.cli import main
from coach.ground.errors import CoachError
from coach.plan.deciding.decide import decide
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.record.rescue.recovery import recover
from coach.record.rows import Event

PAGE = 4096
LONGEST_S = 30
Batches = Mapping[str, tuple[Event, ...]]


@dataclass(frozen=True)
class Written:
    """What was written.

    Attributes:
        files: by their names below the record's folder, as a kill leaves them.
        truth: the events of each batch.
        copies: which of them each database file holds; that of `coach.db` alone, and with its journal.
    """

    files: Mapping[str, bytes]
    truth: Batches
    copies: Mapping[str, Mapping[str, int]]


def _counts(folder: Path) -> dict[str, int]:
    with Store.open(folder) as store:
        return {row.name: row.events for row in store.batches()}


@cache
def written() -> Written:
    """A record with three batches, two backups, and a journal in which the latest entries stand alone."""
    clock = Clock()
    job = two_tails(boards=6, spares=1)
    with tempfile.TemporaryDirectory() as name:
        live, killed = Path(name) / "live", Path(name) / "killed"
        store = Store.open(live, clock=clock)
        chest = start(store, "chest", two_tails(), decide(two_tails()), "mm")
        _walk(chest, clock, 100)
        drawers = start(store, "drawers", job, decide(job), "mm")
        _walk(drawers, clock, 20)
        backups = [store.backup_of_the_day()]
        clock.time += timedelta(days=1)
        _walk(drawers, clock, 15)
        late = start(store, "late", job, decide(job), "in")
        backups.append(store.backup_of_the_day())
        _walk(late, clock, 16)
        _walk(drawers, clock, 25)
        shutil.copytree(live, killed)
        truth = {session.name: tuple(session.events) for session in (chest, drawers, late)}
        store.close()
        files = {str(path.relative_to(killed)): path.read_bytes() for path in killed.rglob("*") if path.is_file()}
        copies: dict[str, Mapping[str, int]] = {}
        for place, backup in enumerate(backups):
            assert backup is not None
            alone = Path(name) / f"alone {place}"
            alone.mkdir()
            shutil.copyfile(backup, alone / "coach.db")
            copies[f"backups/{backup.name}"] = _counts(alone)
        base = Path(name) / "base"
        base.mkdir()
        (base / "coach.db").write_bytes(files["coach.db"])
        copies["coach.db"] = _counts(base)
        return Written(files, truth, copies)


def _walk(session: Session, clock: Clock, steps: int) -> None:
    for number in range(steps):
        if session.next() is None:
            return
        clock.time += timedelta(seconds=4)
        go(session, 1)
        if number % 7 == 6:
            session.undo()


@dataclass
class Tried:
    """What came of many damages."""

    done: int = 0
    refused: int = 0
    recovered: int = 0
    unharmed: int = 0
    kept: int = 0
    lost: int = 0
    faults: list[str] = field(default_factory=list)
    kinds: Counter[str] = field(default_factory=Counter)

    def words(self) -> str:
        """The counts, in a line."""
        kinds = ", ".join(f"{count} {kind}" for kind, count in sorted(self.kinds.items()))
        return (
            f"{self.done} damages ({kinds}): {self.unharmed} cost nothing, {self.refused} were told by a command, "
            f"{self.recovered} recovered; of the entries {self.kept} were kept, {self.lost} could be read in no copy; "
            f"{len(self.faults)} faults"
        )


def damaged(chance: random.Random, files: dict[str, bytes]) -> tuple[str, set[str]]:
    """Damages some of the files; says how, and which were touched."""
    touched: set[str] = set()
    kinds = []
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        name = chance.choice(sorted(files))
        raw = bytearray(files[name])
        kind = chance.choice(("bit", "bit", "bit in text", "bits", "page", "zeros", "cut", "gone", "empty"))
        match kind:
            case "bit" | "bits":
                for _ in range(1 if kind == "bit" else chance.randrange(2, 40)):
                    if raw:
                        raw[chance.randrange(len(raw))] ^= 1 << chance.randrange(8)
            case "bit in text":
                places = [at for at in range(0, len(raw), 7) if 32 <= raw[at] < 127]
                if places:
                    raw[chance.choice(places)] ^= 1 << chance.randrange(5)
            case "page" | "zeros":
                at = chance.randrange(max(1, len(raw) // PAGE)) * PAGE
                rubbish = bytes(PAGE) if kind == "zeros" else chance.randbytes(PAGE)
                raw[at : at + PAGE] = rubbish[: len(raw) - at]
            case "cut":
                del raw[chance.randrange(len(raw) + 1) :]
            case "empty":
                raw.clear()
        touched.add(name)
        kinds.append(kind)
        if kind == "gone":
            del files[name]
            if not files:
                break
        else:
            files[name] = bytes(raw)
    return chance.choice(kinds), touched


class _TooSlowError(Exception):
    """A command took too long."""


@contextlib.contextmanager
def _within(seconds: int) -> Iterator[None]:
    def over(*_: object) -> None:
        raise _TooSlowError

    before = signal.signal(signal.SIGALRM, over)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def _said(*command: str) -> tuple[int, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(list(command))
    return code, out.getvalue() + err.getvalue()


def try_one(seed: int, tried: Tried) -> None:
    """One damage, all commands, a recovery, and whether what is there then is what was written."""
    chance = random.Random(seed)  # noqa: S311 - it has to be the same again
    record = written()
    files = dict(record.files)
    kind, touched = damaged(chance, files)
    tried.done += 1
    tried.kinds[kind] += 1
    with tempfile.TemporaryDirectory() as name, _within(LONGEST_S):
        folder = Path(name) / "record"
        for path, raw in files.items():
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(raw)
        folder.mkdir(exist_ok=True)
        where = f"seed {seed}, {kind} in {', '.join(sorted(touched))}"
        try:
            told = _use(folder)
            tried.refused += told
            try:
                recover(folder, clock=Clock())
                tried.recovered += 1
            except CoachError as error:
                if "is sound" not in str(error) and "no record here" not in str(error):
                    tried.faults.append(f"{where}: not recovered: {error}")
                    return
            _compare(folder, record, touched, tried, where, told=told)
        except _TooSlowError:
            tried.faults.append(f"{where}: took more than {LONGEST_S} s")
        except Exception as error:
            tried.faults.append(f"{where}: {type(error).__name__}: {error}")


def _use(folder: Path) -> bool:
    """Whether a command tells of damage."""
    data = ("--data", str(folder))
    told = False
    for command in (("log",), ("log", "--json"), ("log", "chest"), ("log", "drawers"), ("log", "late")):
        code, said = _said(*command, *data)
        assert "Traceback" not in said, said
        told |= code != 0
    return told


def _compare(folder: Path, record: Written, touched: set[str], tried: Tried, where: str, *, told: bool) -> None:
    with Store.open(folder, clock=Clock()) as store:
        found: dict[str, tuple[Event, ...]] = {}
        for row in store.batches():
            events = tuple(store.events(row.id))
            name = next((name for name, all_of_it in record.truth.items() if all_of_it[: len(events)] == events), None)
            if name is None:
                tried.faults.append(f"{where}: “{row.name}” holds what was never written")
                continue
            found[name] = max(found.get(name, ()), events, key=len)
            Session(store, row).next()
    least = _least(record, touched)
    for name, events in record.truth.items():
        have = len(found.get(name, ()))
        tried.kept += have
        tried.lost += len(events) - have
        if have < least.get(name, 0):
            tried.faults.append(f"{where}: of “{name}” {have} entries, though an untouched copy has {least[name]}")
        journal_alone = touched <= {"coach.db-wal", "coach.db-shm"}
        if have < len(events) and not told and not journal_alone and have < record.copies["coach.db"].get(name, 0):
            tried.faults.append(f"{where}: of “{name}” {len(events) - have} entries are gone and nothing said so")
    if all(len(found.get(name, ())) == len(events) for name, events in record.truth.items()):
        tried.unharmed += 1


def _least(record: Written, touched: set[str]) -> dict[str, int]:
    """How many entries of each batch an untouched copy has."""
    least: dict[str, int] = {}
    whole = {name: len(events) for name, events in record.truth.items()}
    journal = {"coach.db", "coach.db-wal"}
    copies = [counts for name, counts in record.copies.items() if name not in touched]
    if not touched & journal:
        copies.append(whole)
    for counts in copies:
        for name, count in counts.items():
            least[name] = max(least.get(name, 0), count)
    return least
