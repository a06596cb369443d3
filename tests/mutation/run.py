"""Changes the code, one small change at a time, and tells which changes no test notices.

    python tests/mutation/run.py 240 1                     # 240 changes, seed 1, from all of ROOMS
    python tests/mutation/run.py all 0 coach/plan/judging/wrong_cuts.py # every change of one module

The first run measures which tests run which lines (`.coverage.mutation`, some minutes; `--measure` does it anew). Then
each change is made in a copy of the package, and the tests that run its line are run on the copy, the quickest first,
until one fails: killed. What no test notices has survived, unless `harmless.toml` says why no test could; a line that
no test runs is told apart.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
import tomllib
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import coverage

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from mutation.mutants import Mutant, mutants

ROOT = Path(__file__).resolve().parents[2]
LINES, TIMES = ROOT / ".coverage.mutation", ROOT / ".coverage.mutation.xml"
HARMLESS = Path(__file__).with_name("harmless.toml")
ROOMS = (
    "coach/joint",
    "coach/plan",
    "coach/record",
    "coach/ground/lengths.py",
    "coach/telling/steps/step.py",
    "coach/talk/keyguard.py",
    "coach/talk/pace.py",
)
PATIENCE_S = 240  # a change that makes a test hang is noticed as well
KILLED, SURVIVED, NOT_RUN, HARMLESS_ONE = "killed", "survived", "not run", "harmless"


def measure() -> None:
    """Which tests run which lines, and how long each takes."""
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-n",
        "2",
        "--cov",
        "--cov-context=test",
        "--cov-report=",
        f"--junitxml={TIMES}",
        "-p",
        "no:cacheprovider",
    ]
    subprocess.run(command, cwd=ROOT, env={**os.environ, "COVERAGE_FILE": str(LINES)}, check=True)


def files(places: Sequence[str]) -> list[str]:
    """The modules of `places`, files or folders, from the project's folder."""
    found = [
        path
        for place in places
        for path in ([ROOT / place] if place.endswith(".py") else sorted((ROOT / place).rglob("*.py")))
    ]
    return [str(path.relative_to(ROOT)) for path in found]


class Runs:
    """The tests that run a line, the quickest first."""

    def __init__(self) -> None:
        self._data = coverage.CoverageData(str(LINES))
        self._data.read()
        self._seconds: dict[str, float] = {}
        for case in ET.parse(TIMES).getroot().iter("testcase"):  # noqa: S314 - our own
            name = f"{case.get('classname', '').replace('.', '/')}.py::{case.get('name')}"
            self._seconds[name] = float(case.get("time", 0))
        self._lines: dict[str, Mapping[int, list[str]]] = {}

    def tests(self, mutant: Mutant) -> list[str]:
        """Their names; none if no test runs the line in its own process."""
        if mutant.file not in self._lines:
            self._lines[mutant.file] = self._data.contexts_by_lineno(str(ROOT / mutant.file))
        found = {context.rpartition("|")[0] for context in self._lines[mutant.file].get(mutant.line, ())} - {""}
        return sorted(found, key=lambda name: (self._seconds.get(name, 1.0), name))


def noticed(mutant: Mutant, tests: Sequence[str]) -> bool:
    """Whether one of `tests` fails with the change."""
    with tempfile.TemporaryDirectory(prefix="mutant-") as folder:
        copy = Path(folder)
        shutil.copytree(ROOT / "coach", copy / "coach", ignore=shutil.ignore_patterns("__pycache__"))
        changed = copy / mutant.file
        changed.write_text(mutant.applied(changed.read_text(encoding="utf-8")), encoding="utf-8")
        (copy / "tests.txt").write_text("\n".join(tests), encoding="utf-8")
        command = [
            sys.executable,
            "-P",
            "-m",
            "pytest",
            "-x",
            "-q",
            "-p",
            "no:cacheprovider",
            "-p",
            "no:xdist",
            "--no-header",
            f"@{copy / 'tests.txt'}",
        ]
        environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
        try:
            done = subprocess.run(command, cwd=ROOT, env=environment, timeout=PATIENCE_S, capture_output=True)
        except subprocess.TimeoutExpired:
            return True
        return done.returncode != 0


def verdict(mutant: Mutant, runs: Runs, harmless: Mapping[str, str]) -> str:
    """What came of one change."""
    if mutant.name in harmless:
        return HARMLESS_ONE
    tests = runs.tests(mutant)
    if not tests:
        return NOT_RUN
    for few in (tests[:40], tests[40:]):
        if few and noticed(mutant, few):
            return KILLED
    return SURVIVED


def main() -> None:
    """Makes the changes and prints what came of them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", help="how many changes, or all")
    parser.add_argument("seed", type=int)
    parser.add_argument("places", nargs="*", default=ROOMS)
    parser.add_argument("--measure", action="store_true", help="measure anew which tests run which lines")
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    if asked.measure or not LINES.exists():
        measure()
    every = [mutant for file in files(asked.places) for mutant in mutants(ROOT, file)]
    if asked.count != "all":
        every = random.Random(asked.seed).sample(every, min(int(asked.count), len(every)))  # noqa: S311
    harmless = tomllib.loads(HARMLESS.read_text(encoding="utf-8")) if HARMLESS.exists() else {}
    runs = Runs()
    counts: Counter[str] = Counter()
    with ThreadPoolExecutor(asked.jobs) as pool:
        verdicts = pool.map(lambda mutant: verdict(mutant, runs, harmless), every)
        for mutant, found in zip(every, verdicts, strict=True):
            counts[found] += 1
            if found in (SURVIVED, NOT_RUN):
                print(f"{found}: {mutant.file}:{mutant.line} {mutant.name.partition('::')[2]}", flush=True)
    can_matter = sum(counts.values()) - counts[HARMLESS_ONE]
    print(", ".join(f"{counts[word]} {word}" for word in (KILLED, SURVIVED, NOT_RUN, HARMLESS_ONE)))
    print(f"noticed: {counts[KILLED] / max(1, can_matter):.0%} of the {can_matter} that can matter")


if __name__ == "__main__":
    main()
