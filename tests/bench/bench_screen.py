"""Times the first screen and a key's way to the screen, each against a bare app of the screen library in the same run.

Run it from the top of the checkout, on demand:  python tests/bench/bench_screen.py [RUNS] [COLUMNSxROWS]
Every figure is a whole process in a pseudo-terminal, timed from outside; the two kinds of process take turns, so that a
machine that slows down slows both. Only the ratios are to be quoted.
"""

from __future__ import annotations

import fcntl
import os
import platform
import pty
import select
import signal
import statistics
import struct
import sys
import tempfile
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

BARE = """
from textual.app import App
from textual.widgets import Static
class Bare(App):
    count = 0
    def compose(self):
        yield Static("ready 0")
    def on_key(self, event):
        self.count += 1
        self.query_one(Static).update(f"ready {self.count}")
Bare().run()
"""
LAYOUT = """
format = 1
name = "bench"
[[parts]]
label = "side"
boards = 98
spares = 2
width = "57 mm"
thickness = "10 mm"
length = "380 mm"
ends = "both"
joint = "through"
mates_with = "12 mm"
tails = 2
half_pin = "5 mm"
pin = "4 mm"
"""
CUTS = 800
PREPARED = 8  # steps before the first cut: six to prepare, the fence, the scrap cut

Markers = tuple[bytes, ...]


class Process:
    """A command in a pseudo-terminal, whose output is read as bytes."""

    def __init__(self, command: list[str], columns: int, rows: int, env: dict[str, str]) -> None:
        self.started = time.perf_counter()
        self.pid, self.master = pty.fork()
        if self.pid == 0:
            os.execvpe(command[0], command, env)  # noqa: S606 - the command is ours
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def until(self, *markers: bytes, timeout_s: float = 20.0) -> float:
        """Reads until one of `markers` comes; returns when that was. RuntimeError if none does."""
        seen = b""
        end = time.perf_counter() + timeout_s
        while time.perf_counter() < end:
            ready, _, _ = select.select([self.master], [], [], 0.05)
            if ready:
                seen += os.read(self.master, 65536)
                if any(marker in seen for marker in markers):
                    return time.perf_counter()
        raise RuntimeError(f"none of {markers!r} came; the last output was {seen[-300:]!r}")

    def quiet(self, for_s: float = 0.15) -> None:
        """Reads until nothing has come for a while."""
        while select.select([self.master], [], [], for_s)[0]:
            os.read(self.master, 65536)

    def send(self, keys: bytes) -> float:
        """Types `keys`; returns when that was, before the other process can have had them."""
        at = time.perf_counter()
        os.write(self.master, keys)
        return at

    def kill(self) -> None:
        """Ends it at once."""
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.master)


@contextmanager
def running(command: list[str], size: tuple[int, int], env: dict[str, str]) -> Iterator[Process]:
    """A process that is killed at the end."""
    process = Process(command, *size, env)
    try:
        yield process
    finally:
        process.kill()


def cuts_done(count: int) -> tuple[bytes, bytes]:
    """How the walk says at any width that so many cuts are done."""
    return f"{count} of {CUTS} cuts".encode(), f"{count}/{CUTS} cuts".encode()


def first_screen(command: list[str], markers: Markers, size: tuple[int, int], env: dict[str, str]) -> float:
    """Seconds from the start of the process until one of `markers` is painted."""
    with running(command, size, env) as process:
        return process.until(*markers) - process.started


def key_times(
    command: list[str], ready: Markers, marks: list[Markers], size: tuple[int, int], env: dict[str, str]
) -> list[float]:
    """Seconds from each of many spaces until its mark is painted."""
    times = []
    with running(command, size, env) as process:
        process.until(*ready)
        for mark in marks:
            process.quiet()
            time.sleep(0.3)
            sent = process.send(b" ")
            times.append(process.until(*mark) - sent)
    return times


def said(name: str, values: list[float]) -> str:
    """Median and spread in milliseconds."""
    ordered = sorted(values)
    return (
        f"{name:<34} median {statistics.median(ordered) * 1000:7.1f} ms   "
        f"min {ordered[0] * 1000:7.1f}   max {ordered[-1] * 1000:7.1f}   n {len(ordered)}"
    )


def main() -> None:
    """Prints the figures and their ratios."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    columns, _, rows = (sys.argv[2] if len(sys.argv) > 2 else "80x24").partition("x")
    size = (int(columns), int(rows))
    print(f"{platform.platform()}, Python {platform.python_version()}, {os.cpu_count()} cores, {columns}x{rows}")
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        (home / "bare.py").write_text(BARE)
        (home / "bench.toml").write_text(LAYOUT)
        env = {**os.environ, "TERM": "xterm-256color", "HOME": folder, "XDG_CONFIG_HOME": folder}
        bare = [sys.executable, str(home / "bare.py")]
        coach = [sys.executable, "-P", "-m", "coach", "run"]
        quick = ["--key-guard", "0"]
        resume = [*coach, "--batch", "bench", "--data", str(home / "kept"), *quick]
        with running([*coach, str(home / "bench.toml"), "--data", str(home / "kept"), *quick], size, env) as process:
            process.until(*cuts_done(0))
            for _ in range(PREPARED + 1):
                process.quiet()
                time.sleep(0.3)
                process.send(b" ")
            process.until(*cuts_done(1))
        times: dict[str, list[float]] = {"bare": [], "resume": [], "start": []}
        for run in range(runs + 1):
            start = [*coach, str(home / "bench.toml"), "--data", str(home / f"new-{run}"), *quick]
            for name, command, markers in (
                ("bare", bare, (b"ready 0",)),
                ("resume", resume, cuts_done(1)),
                ("start", start, cuts_done(0)),
            ):
                took = first_screen(command, markers, size, env)
                if run:  # the first round only warms up
                    times[name].append(took)
        for name, values in times.items():
            print(said(f"first screen, {name}", values))
        for name in ("resume", "start"):
            pairs = [a / b for a, b in zip(times[name], times["bare"], strict=True)]
            print(f"  {name} : bare = {statistics.median(pairs):.2f} (median of pairs)")
        keys = max(20, runs * 4)
        bare_keys = key_times(bare, (b"ready 0",), [(f"ready {n}".encode(),) for n in range(1, keys + 1)], size, env)
        coach_keys = key_times(resume, cuts_done(1), [cuts_done(n) for n in range(2, keys + 2)], size, env)
        print(said("key to paint, bare", bare_keys))
        print(said("key to commit and paint, coach", coach_keys))
        print(f"  coach : bare = {statistics.median(coach_keys) / statistics.median(bare_keys):.2f} (medians)")
        worst = sorted(coach_keys)[min(len(coach_keys) - 1, int(len(coach_keys) * 0.99))]
        print(f"  99th percentile {worst * 1000:.1f} ms")


if __name__ == "__main__":
    main()
