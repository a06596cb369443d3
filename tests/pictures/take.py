"""Takes the pictures that the README shows, from the app itself:  python tests/pictures/take.py

Layout, shop, clock and window are always the same, so a picture changes only when the screen does.
"""

from __future__ import annotations

import asyncio
import html
import os
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta, timezone
from pathlib import Path

from textual.pilot import Pilot

from coach.ground.places import sample_layouts_folder
from coach.ground.terms import Turn
from coach.loading import load
from coach.plan.steps import StepKind
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.talk.context import Context
from coach.tui.app import CoachApp
from coach.tui.screens.log import LogScreen

FOLDER = Path(__file__).parent
NAMES = ("home", "walk", "turn", "log")
SIZES = {"home": (80, 24), "walk": (100, 30), "turn": (80, 24), "log": (80, 24)}
LAYOUT, SHOP = "shallow-drawers.toml", "shop-mm.toml"
MORNING = datetime(2031, 3, 4, 9, 30, 0, 0, timezone(timedelta(hours=-5)))
BETWEEN_STEPS = timedelta(seconds=20)
CUTS_BEFORE_WALK, CUTS_BEFORE_LOG = 8, 30
POLLS, POLL_S = 500, 0.01


class Clock:
    """A clock that stands between steps."""

    def __init__(self) -> None:
        self.time = MORNING

    def __call__(self) -> datetime:
        return self.time


def take(name: str) -> str:
    """The picture of that name as SVG."""
    with tempfile.TemporaryDirectory() as folder, _away_from_home(Path(folder)):
        return asyncio.run(take_in(Path(folder), name))


async def take_in(folder: Path, name: str) -> str:
    """The same, with the record in `folder`; the current folder and the home have to be empty ones."""
    clock = Clock()
    samples = sample_layouts_folder()
    with Store.open(folder / "record", clock=clock) as store:
        loaded = load([samples / LAYOUT], samples / SHOP, None)
        session = start(store, loaded.job.layouts[0].name, loaded.job, loaded.settings, loaded.unit)
        _go_to(session, clock, name)
        context = Context(store, shop=samples / SHOP, now=clock)  # so that no folder of this computer is shown
        app = CoachApp(context, None if name == "home" else session)
        async with app.run_test(size=SIZES[name]) as pilot:
            if name == "log":
                await _until(pilot, lambda: len(app.screen_stack) == 2)
                app.push_screen(LogScreen(session, clock.time))
            await _until(pilot, lambda: _words(name) in visible_text(app.export_screenshot()))
            await pilot.pause()
            return _settled(app.export_screenshot(simplify=True), name)


def visible_text(svg: str) -> str:
    """What can be read in a picture."""
    pieces = re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    return "\n".join(html.unescape(piece).replace("\xa0", " ") for piece in pieces)


def _words(name: str) -> str:
    """Words that are on the screen only once it is all there."""
    return {"home": "(all invented)", "walk": "this kerf", "turn": "end for end", "log": "setting 1"}[name]


def _go_to(session: Session, clock: Clock, name: str) -> None:
    """Does steps until the one to picture is next."""
    cuts = CUTS_BEFORE_LOG if name in ("home", "log") else CUTS_BEFORE_WALK
    while (step := session.next()) is not None:
        right = step.turn is (Turn.END_FOR_END if name == "turn" else Turn.EDGE_FOR_EDGE)
        if step.kind is StepKind.CUT and right and len(session.walker.done) >= cuts:
            return
        clock.time += BETWEEN_STEPS
        session.complete(step)


def _settled(svg: str, name: str) -> str:
    """`svg` without what differs from run to run, and without notes and fonts from the network."""
    named = re.sub(r"terminal-\d+", f"coach-{name}", svg)
    without_fonts = re.sub(r"\s*@font-face \{.*?\}", "", named, flags=re.DOTALL)
    without_notes = re.sub(r"\s*<!--.*?-->", "", without_fonts, flags=re.DOTALL)
    return "\n".join(line.rstrip() for line in without_notes.splitlines()) + "\n"


async def _until(pilot: Pilot[None], condition: Callable[[], bool]) -> None:
    for _ in range(POLLS):
        if condition():
            return
        await pilot.pause(POLL_S)
    raise TimeoutError("the screen to picture never came")


@contextmanager
def _away_from_home(folder: Path) -> Iterator[None]:
    """Neither the person's own files nor how their terminal is set up come into a picture."""
    before, here = dict(os.environ), Path.cwd()
    os.environ.pop("NO_COLOR", None)
    os.environ.update(HOME=str(folder), XDG_CONFIG_HOME=str(folder / "config"))
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(here)
        os.environ.clear()
        os.environ.update(before)


if __name__ == "__main__":
    for each in NAMES:
        (FOLDER / f"{each}.svg").write_text(take(each), encoding="utf-8")
