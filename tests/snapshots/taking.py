"""Takes snapshots from the app: opens each scene in a window of its size, and waits until the screen is at rest."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Collection, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

from snapshots.scenes import HOME, INCHES, LOOKS, MILLIMETRES, Scene, Shot, all_shots
from snapshots.surroundings import in_fixed_surroundings
from support.app_screens import Shown, opened
from support.small_batches import ALL_STEPS, BEFORE_FIRST_CUT, JOB, SETTINGS, Clock, go, upcoming
from support.snapshots import picture
from textual.screen import Screen
from textual.widgets import Input

from coach.ground.places import sample_layouts_folder
from coach.loading import load
from coach.plan.steps import StepKind
from coach.record.batch.session import start
from coach.record.disk.store import Store
from coach.tui.home.screen import HomeScreen
from coach.tui.walk.screen import WalkScreen

FOLDER = Path(__file__).parent / "screens"
LAYOUTS = ("from-marks.toml", "shallow-drawers.toml")
BETWEEN_STEPS = timedelta(seconds=20)
STANDS = 4
"""So often a screen has to come out the same, with all messages dealt with in between, to be at rest."""
PATIENCE = 100
"""The same for a screen that doesn't show what it should."""
MISSING = "what should be on the screen by now, as scenes.py has it, isn't: "
LATER_S = 60.0
"""After so many seconds no key is a held one, and no question still waits for a second press."""


def stored_names() -> set[str]:
    """The names of the snapshots that are stored."""
    return {file.stem for file in FOLDER.glob("*.txt")}


def take(wanted: Collection[str] | None = None) -> dict[str, str]:
    """Snapshots by their names, taken from the app: all of them, or those that are wanted."""
    shots = [shot for shot in all_shots() if wanted is None or shot.name in wanted]
    with tempfile.TemporaryDirectory() as folder, in_fixed_surroundings(Path(folder)):
        return asyncio.run(_take_in(Path(folder), shots))


async def _take_in(folder: Path, shots: Sequence[Shot]) -> dict[str, str]:
    found: dict[str, str] = {}
    for plain in (False, True):
        place = folder / f"record-{plain}"
        taken = [shot for shot in shots if shot.plain is plain]
        found |= await _walked(place / "mm", MILLIMETRES, taken, "shallow-drawers.toml", "shop-mm.toml")
        found |= await _walked(place / "in", INCHES, taken, "from-marks.toml", "shop-inches.toml")
        found |= await _at_home(folder, place / "home", taken)
    return found


async def _walked(
    folder: Path, scenes: Sequence[Scene], wanted: Sequence[Shot], layout: str, shop: str
) -> dict[str, str]:
    """What is wanted of one walk, which goes from one scene to the next."""
    pairs = _pairs(scenes, wanted)
    if not pairs:
        return {}
    clock, samples = Clock(), sample_layouts_folder()
    found: dict[str, str] = {}
    with Store.open(folder, clock=clock) as store:
        loaded = load([samples / layout], samples / shop, None)
        session = start(store, loaded.job.layouts[0].name, loaded.job, loaded.settings, loaded.unit)
        async with opened(store, session, clock=clock, plain=pairs[0][1].plain) as shown:
            for scene, shot in pairs:
                _go_on(shown.walk, clock, scene)
                found[shot.name] = await _taken(shown, scene, shot)
                await _back_to(shown, WalkScreen)
    return found


def _pairs(scenes: Sequence[Scene], wanted: Sequence[Shot]) -> list[tuple[Scene, Shot]]:
    """The scenes in their order, each with what is wanted of it."""
    return [(scene, shot) for scene in scenes for shot in scene.shots() if shot in wanted]


def _go_on(walk: WalkScreen, clock: Clock, scene: Scene) -> None:
    """Does steps until the scene's own is next."""
    while scene.at is not None and not scene.at(walk.session):
        clock.time += BETWEEN_STEPS
        step = upcoming(walk.session)
        if step.kind is StepKind.SET_FENCE:
            walk.complete((step,), None)
        else:
            walk.session.complete(step)


async def _at_home(folder: Path, record: Path, wanted: Sequence[Shot]) -> dict[str, str]:
    """What is wanted of the scenes that begin at home: with two layouts, a batch under way and a finished one."""
    pairs = _pairs(HOME, wanted)
    if not pairs:
        return {}
    clock, samples = Clock(), sample_layouts_folder()
    found: dict[str, str] = {}
    layouts = folder / "layouts"
    layouts.mkdir(exist_ok=True)
    for name in LAYOUTS:
        (layouts / name).write_bytes((samples / name).read_bytes())
    with Store.open(record, clock=clock) as store:
        clock.time -= timedelta(days=1)
        go(start(store, "Trial drawers", JOB, SETTINGS, "mm"), ALL_STEPS)
        clock.time += timedelta(days=1)
        go(start(store, "Bench drawers", JOB, SETTINGS, "mm"), BEFORE_FIRST_CUT + 5)
        async with opened(store, clock=clock, plain=pairs[0][1].plain) as shown:
            for scene, shot in pairs:
                found[shot.name] = await _taken(shown, scene, shot)
                await _back_to(shown, HomeScreen)
    return found


async def _taken(shown: Shown, scene: Scene, shot: Shot) -> str:
    """The scene as it is when it is opened in a window of the shot's size."""
    shown.app.animation_level = "none"
    shown.app.theme = LOOKS[shot.look].name
    await shown.pilot.resize_terminal(shot.columns, shot.rows)
    await shown.until(lambda: shown.screen.size == (shot.columns, shot.rows), f"the size of {shot.name}")
    if isinstance(shown.screen, WalkScreen):
        shown.walk._said = ""
        shown.walk.context.pace = scene.pace
        shown.seconds.passed += LATER_S
        shown.walk.show()
    if scene.opens is not None:
        await _at_rest(shown)
        await scene.opens(shown)
    await shown.until_on(scene.screen)
    for field in shown.screen.query(Input):
        field.cursor_blink = False
        field._cursor_visible = True
    return await _at_rest(shown, scene.words)


async def _at_rest(shown: Shown, words: str = "") -> str:
    """The screen once it has come to rest and shows `words`; if it never does, below a line that says so."""
    latest: list[str] = []

    def rests() -> bool:
        now = picture(shown.strips(), shown.app.theme_variables)
        if now not in latest[-1:]:
            latest.clear()
        latest.append(now)
        return len(latest) >= (STANDS if shown.shows(words) else PATIENCE)

    await shown.until(rests, "a screen at rest")
    return latest[-1] if shown.shows(words) else f"{MISSING}“{words}”\n{latest[-1]}"


async def _back_to(shown: Shown, screen: type[Screen[Any]]) -> None:
    """Closes what is open."""
    while not isinstance(shown.screen, screen):
        before = shown.screen
        await shown.pilot.press("escape")
        await shown.until(lambda there=before: shown.screen is not there, "another screen")  # type: ignore[misc]
