"""Times the record with a thousand events and with a million, and weighs what `coach log` holds in memory.

Run it from the top of the checkout, on demand:  python tests/bench/bench_record.py [EVENTS]
Small and large take turns in one run, so that a machine that slows down slows both. Only the ratios are to be quoted.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

BATCH_EVENTS, RUNS = 1000, 9
LARGE_BOARDS, LARGE_EVENTS = 9_999, 79_000  # 79,992 cuts, nearly all made
LARGE = "large batch"

LOG = """
import sys
from coach.cli import main
code = main(sys.argv[1:])
sys.stdout.flush()
status = open("/proc/self/status").read()
print(status.split("VmHWM:")[1].split()[0], file=sys.stderr)
sys.exit(code)
"""


def batch_rows(boards: int, events: int) -> list[tuple[int, str, str, str]]:
    """The first events of a batch of so many boards, every step done in its order, as the store keeps them."""
    from support.small_jobs import two_tails

    from coach.plan.deciding.decide import decide
    from coach.plan.walking.situation import beginning
    from coach.plan.walking.walker import plan
    from coach.record.batch.events import start_events, step_event
    from coach.record.rows import now

    job = two_tails(boards=boards)
    settings = decide(job)
    found = start_events(job, settings, "mm")
    for step in plan(beginning(job, settings)):
        if len(found) == events:
            break
        found.append(step_event(job, step, None, "84 mm"))
        if len(found) % 50 == 0 and len(found) < events:  # now and then a step is taken back and done again
            found.append(("undo", {"number": len(found), "of": found[-1][0]}))
            if len(found) < events:
                found.append(found[-2])
    begun = now() - timedelta(seconds=4 * events)
    return [
        (
            number,
            (begun + timedelta(seconds=4 * number)).isoformat(timespec="milliseconds"),
            kind,
            json.dumps({**data, "key": number}, separators=(",", ":")),
        )
        for number, (kind, data) in enumerate(found, 1)
    ]


def build(folder: Path, events: int) -> None:
    """A record of so many events: batches of a thousand, and, in a long one, one batch with `LARGE_EVENTS`."""
    from coach.record.disk.store import Store
    from coach.record.rows import Tally

    large = LARGE_EVENTS if events > 2 * LARGE_EVENTS else 0
    small_rows = batch_rows(70, BATCH_EVENTS)
    batches = [(f"batch {number}", small_rows, 560) for number in range(1, (events - large) // BATCH_EVENTS + 1)]
    if large:
        batches.append((LARGE, batch_rows(LARGE_BOARDS, large), 8 * LARGE_BOARDS))
    with Store.open(folder) as store:
        store._connection.execute("PRAGMA synchronous = OFF")  # it is made for timing alone
        for batch, (name, rows, cuts) in enumerate(batches, 1):
            done = sum(row[2] == "cut" for row in rows)
            store.put_back(name, rows[0][1], rows, Tally(cuts, done, 100, finished=batch < len(batches) - 20), [])


def resume(folder: Path, name: str) -> float:
    """Seconds to open the record, read a batch and know its next step."""
    from coach.record.batch.session import Session
    from coach.record.disk.store import Store

    begun = time.perf_counter()
    with Store.open(folder) as store:
        row = store.batch_named(name)
        assert row is not None
        assert Session(store, row).next() is not None
        return time.perf_counter() - begun


def home(folder: Path, _: str) -> float:
    """Seconds for the list of batches, in an open record."""
    from coach.record.disk.store import Store

    with Store.open(folder) as store:
        begun = time.perf_counter()
        store.batches()
        return time.perf_counter() - begun


def one_key(folder: Path, name: str) -> float:
    """Seconds to record one step, the mean of ten."""
    from coach.record.batch.session import Session
    from coach.record.disk.store import Store

    with Store.open(folder) as store:
        row = store.batch_named(name)
        assert row is not None
        session = Session(store, row)
        begun = time.perf_counter()
        for _ in range(10):
            step = session.next()
            assert step is not None
            session.complete(step)
        return (time.perf_counter() - begun) / 10


def undo(folder: Path, name: str) -> float:
    """Seconds to take one step back."""
    from coach.record.batch.session import Session
    from coach.record.disk.store import Store

    with Store.open(folder) as store:
        row = store.batch_named(name)
        assert row is not None
        session = Session(store, row)
        begun = time.perf_counter()
        session.undo()
        return time.perf_counter() - begun


def backup(folder: Path, _: str) -> float:
    """Seconds for the backup of the day."""
    from coach.record.disk.store import Store

    for path in (folder / "backups").glob("*"):
        path.unlink()
    with Store.open(folder) as store:
        begun = time.perf_counter()
        store.backup_of_the_day()
        return time.perf_counter() - begun


def logged(folder: Path, *arguments: str) -> tuple[float, float, int, int]:
    """`coach log` as a process: seconds to the first line and to the end, lines, and its greatest memory in kB."""
    begun = time.perf_counter()
    with subprocess.Popen(
        [sys.executable, "-c", LOG, "log", *arguments, "--data", str(folder)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.readline()
        first = time.perf_counter() - begun
        lines = 1 + sum(1 for _ in process.stdout)
        whole = time.perf_counter() - begun
        memory = int(process.stderr.read().split()[-1])
    assert process.returncode == 0
    return first, whole, lines, memory


def compared(what: str, measure: Callable[[Path, str], float], cases: list[tuple[str, Path, str]], runs: int) -> None:
    """Prints the medians of the cases, measured in turns, and each one's ratio to the first."""
    times: list[list[float]] = [[] for _ in cases]
    for run in range(runs + 1):
        for values, (_, folder, name) in zip(times, cases, strict=True):
            took = measure(folder, name)
            if run or runs == 0:  # the first round only warms up
                values.append(took)
    base = statistics.median(times[0])
    for values, (case, _, _) in zip(times, cases, strict=True):
        median = statistics.median(values)
        print(f"{what:<28} {case:<34} median {median * 1000:9.2f} ms   {median / base:8.2f} times", flush=True)


def logs(small: Path, big: Path, whole: str) -> Iterator[tuple[str, Path, tuple[str, ...]]]:
    """What `coach log` is asked for."""
    one, large = "batch 1", LARGE
    yield "coach log", small, ()
    yield "coach log", big, ()
    yield "coach log BATCH", small, (one,)
    yield "coach log BATCH", big, (one,)
    yield "coach log BATCH, the large one", big, (large,)
    for form in ("--json", "--csv"):
        yield f"coach log BATCH {form}", small, (one, form)
        yield f"coach log BATCH {form}", big, (one, form)
        yield f"coach log BATCH {form}, the large one", big, (large, form)
        yield f"coach log {form}", small, (form,)
        yield f"coach log {form}, {whole}", big, (form,)


def main() -> None:
    """Prints the figures and their ratios."""
    if len(sys.argv) > 3 and sys.argv[1] == "build":
        build(Path(sys.argv[2]), int(sys.argv[3]))
        return
    events = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    print(f"{platform.platform()}, Python {platform.python_version()}, {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as folder:
        small, big = Path(folder) / "small", Path(folder) / "big"
        for path, count in ((small, BATCH_EVENTS), (big, events)):
            subprocess.run([sys.executable, __file__, "build", str(path), str(count)], check=True)
        mb = (big / "coach.db").stat().st_size / 1e6
        print(f"small: {BATCH_EVENTS} events in one batch; big: {events} events, {mb:.0f} MB")
        same = [("1,000 events", small, "batch 1"), (f"{events:,}, a batch of 1,000", big, "batch 1")]
        large = (f"{events:,}, a batch of {LARGE_EVENTS:,}", big, LARGE)
        compared("open, resume, next step", resume, [*same, large], RUNS)
        compared("list of batches", home, same, RUNS)
        compared("record one step", one_key, [*same, large], RUNS)
        compared("take a step back", undo, [*same, large], RUNS)
        compared("backup of the day", backup, same, 3)
        for what, path, arguments in logs(small, big, f"{events:,} events"):
            first, whole, lines, memory = logged(path, *arguments)
            print(
                f"{what:<46} {'small' if path == small else 'big':<6} first line {first * 1000:8.0f} ms   "
                f"whole {whole:7.2f} s   {lines:8} lines   {memory / 1024:6.0f} MB",
                flush=True,
            )


if __name__ == "__main__":
    main()
