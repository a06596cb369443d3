"""The screens look as they do in the snapshots that are stored."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from rich.segment import Segment
from rich.style import Style
from snapshots.scenes import HOME, INCHES, LOOKS, MILLIMETRES, Scene, all_shots
from snapshots.taking import FOLDER, MISSING, stored_names, take
from support.snapshots import COMMAND, NAMED, differences, picture
from textual.strip import Strip

from coach.tui.walk.screen import WalkScreen

NAMES = [shot.name for shot in all_shots()]
COLOURS = {name: f"#0000{number:02x}" for number, name in enumerate(NAMED, 1)}
SIZES = {(40, 15), (60, 20), (80, 24), (100, 30), (120, 40), (200, 60)}


def stored(name: str) -> str:
    """A snapshot as it is stored; nothing where it isn't."""
    file = FOLDER / f"{name}.txt"
    return file.read_text(encoding="utf-8") if file.exists() else ""


@pytest.mark.parametrize("plain", [False, True], ids=["unicode", "ascii"])
@pytest.mark.parametrize("scenes", [MILLIMETRES, INCHES, HOME], ids=["millimetres", "inches", "home"])
def test_the_screens_look_as_in_their_snapshots(scenes: Sequence[Scene], plain: bool) -> None:
    """One app shows all of them, which is much quicker than one for each."""
    wanted = [shot.name for scene in scenes for shot in scene.shots() if shot.plain is plain]
    now = take(wanted)
    assert list(now) == wanted
    told = []
    for name in wanted:
        missing, shown = now[name].split("\n", 1) if now[name].startswith(MISSING) else ("", now[name])
        differs = differences(stored(name), shown)
        told += [f"{name}.txt: {missing}\n{differs}"] if differs or missing else []
    if told:
        pytest.fail("\n\n".join(told), pytrace=False)


def test_no_snapshot_is_stored_that_nothing_asks_for() -> None:
    assert stored_names() - set(NAMES) == set(), f"remove them: {COMMAND}"


def test_each_snapshot_has_a_name_of_its_own() -> None:
    assert len(set(NAMES)) == len(NAMES)


def test_a_cut_is_taken_at_every_size_in_every_look() -> None:
    cuts = {(shot.columns, shot.rows, shot.look) for shot in all_shots() if shot.scene.startswith("cut-")}
    assert cuts == {(*size, look) for size in SIZES for look in LOOKS}


def test_every_scene_is_taken_at_two_sizes_or_more() -> None:
    sizes: dict[str, set[tuple[int, int]]] = {}
    for shot in all_shots():
        sizes.setdefault(shot.scene, set()).add((shot.columns, shot.rows))
    assert [scene for scene, taken in sizes.items() if len(taken) < 2] == []


def test_in_ascii_the_walk_has_no_other_sign() -> None:
    walks = {scene.name for scene in (*MILLIMETRES, *INCHES) if scene.screen is WalkScreen}
    plain = [shot.name for shot in all_shots() if shot.plain and shot.scene in walks]
    assert plain
    assert [name for name in plain if not stored(name).isascii()] == []


def test_neither_terminal_nor_person_nor_place_makes_a_difference(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (home / "config/coach").mkdir(parents=True)
    (home / "config/coach/walk.toml").write_text('format = 1\n[keys]\ndone = ["d"]\n')
    (home / "config/coach/remembered.json").write_text('{"format": 1, "theme": "daylight", "pace": "setting"}')
    surroundings = {"NO_COLOR": "1", "TERM": "dumb", "LANG": "de_DE.UTF-8", "TZ": "Asia/Tokyo", "COLUMNS": "33"}
    for name, value in surroundings.items():
        monkeypatch.setenv(name, value)
    wanted = {"prepare-80x24-dark", "help-80x24-light", "home-80x24-dark", "starting-40x15-dark"}
    assert take(wanted) == {name: stored(name) for name in wanted}


def rows(*texts: str, ink: str = "wood", ground: str = "background", bold: bool = False) -> str:
    """The picture of rows in one style."""
    style = Style(color=COLOURS[ink], bgcolor=COLOURS[ground], bold=bold)
    return picture([Strip([Segment(text, style)]) for text in texts], COLOURS)


def test_a_picture_is_the_rows_then_their_styles_then_what_the_letters_mean() -> None:
    named = [f"b background {COLOURS['background']}", f"w wood {COLOURS['wood']}", "B bold"]
    assert rows(" to saw ", "", bold=True).splitlines() == [
        *(" 1| to saw", " 2|", "styles", " 1 1. 6wB 1.", " 2 ", "legend"),
        *named,
    ]


@pytest.mark.parametrize(
    ("other", "what"),
    [
        (rows("one", "two", ink="quiet"), [" 1 3w", " 1 3q"]),
        (rows("one", "two", ground="panel"), [" 1 3w", " 1 3w/n"]),
        (rows("one", "two", bold=True), [" 1 3w", " 1 3wB"]),
        (rows("one", " two"), [" 2|two", " 2| two"]),
        (rows("one"), [" 2|two", "nothing"]),
    ],
)
def test_a_lost_colour_or_a_moved_word_is_told_with_what_was_expected(other: str, what: list[str]) -> None:
    told = differences(rows("one", "two"), other)
    expected, shown = what
    assert f"expected: {expected}\n  found:    {shown}\n" in told
    assert COMMAND in told


def test_pictures_that_are_the_same_differ_in_nothing() -> None:
    assert differences(rows("one"), rows("one")) == ""


def test_the_colour_of_what_is_blank_makes_no_difference_but_its_ground_does() -> None:
    assert rows("  ", ink="wood").splitlines()[:3] == rows("  ", ink="quiet").splitlines()[:3]
    assert rows("  ", ground="panel") != rows("  ")
