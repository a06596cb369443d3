"""Keys at random and kills at random moments, again and again: nothing that the screen has acknowledged is lost."""

from __future__ import annotations

import os
from pathlib import Path

from support.seen_and_kept import Seen, State
from support.torturing import Torture
from support.walking import NAME, Workshop

ROUNDS = int(os.environ.get("COACH_TORTURE_ROUNDS", "12"))
SEED = int(os.environ.get("COACH_TORTURE_SEED", "2031"))

CUT = {
    "kind": "cut", "at": "2031-03-04T09:30:05.123-05:00", "board": "side 1", "turn": None, "end": "A", "tail": 1,
    "faces": "top",
}  # fmt: skip
LATEST = "09:30:05  cut: side 1: end A, tail 1, top side"


def test_no_acknowledged_step_is_lost_to_a_kill(tmp_path: Path) -> None:
    workshop = Workshop.in_folder(tmp_path)
    figures = Torture(workshop, SEED, longest_s=2.0).run(ROUNDS)
    print(figures)  # noqa: T201 - for pytest -s
    assert figures.losses == []
    assert figures.kills > ROUNDS / 3
    assert figures.cuts + figures.steps > ROUNDS / 2
    log = workshop.plain("log", NAME, "--data", str(workshop.data))
    assert log.returncode == 0, log.stderr


def test_a_screen_that_says_more_than_the_disk_is_told_apart() -> None:
    before, after = State(()), State((CUT,))
    assert after.fits(Seen(1, None, LATEST))
    assert not before.fits(Seen(1, None, LATEST))
    assert not before.fits(Seen(0, None, LATEST))
    assert not after.fits(Seen(1, None, LATEST.replace("tail 1", "tail 2")))
    assert before.fits(Seen(0, None, None))
