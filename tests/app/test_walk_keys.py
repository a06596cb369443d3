"""The walk's keys: as usual and as a person binds them, at the foot and in the help; the bell, and the theme."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.app_screens import Shown, opened
from support.small_batches import BEFORE_FIRST_CUT, go, go_to, upcoming

from coach.ground import places
from coach.plan.steps import Step, StepKind
from coach.preferences import FIXED, USUAL, Action, parse_preferences, recall, remember
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.talk.pace import PACES, Pace
from coach.tui.home.screen import HomeScreen
from coach.tui.keys import KeyMap, keys_line
from coach.tui.screens.help import HelpScreen
from coach.tui.screens.log import LogScreen
from coach.tui.theme import DARK, LIGHT
from coach.tui.walk.screen import WalkScreen

OWN = """
[keys]
done = ["f13", "b"]
undo = ["z"]
change = ["insert"]
log = ["?"]
leave = ["escape"]
"""


def set_up(text: str) -> None:
    """The person's walk.toml."""
    places.walk_file().parent.mkdir(parents=True, exist_ok=True)
    places.walk_file().write_text(f"format = 1\n{text}", encoding="utf-8")


def foot(columns: int, step: Step | None, *, own: str = "", pace: Pace = Pace.STEP) -> str:
    """The line at the foot, in a window of so many columns, which keeps one free at each side."""
    keys = KeyMap(parse_preferences("walk.toml", f"format = 1\n{own}").keys)
    return keys_line(step, keys, pace, columns - 2).plain


CUT, CHECK = Step(StepKind.CUT), Step(StepKind.CHECK)


@pytest.mark.parametrize("own", ["", '[keys]\ndone = ["f13"]\nchange = ["x"]\nhelp = ["h"]', OWN])
@pytest.mark.parametrize("pace", PACES)
@pytest.mark.parametrize("step", [None, CUT, CHECK])
@pytest.mark.parametrize("columns", [40, 60, 80, 120])
def test_the_keys_that_matter_stand_at_the_foot_of_every_window(
    columns: int, step: Step | None, pace: Pace, own: str
) -> None:
    said = foot(columns, step, own=own, pace=pace)
    assert len(said) <= columns - 2
    keys = KeyMap(parse_preferences("walk.toml", f"format = 1\n{own}").keys)
    for action in (Action.DONE, Action.UNDO, Action.CHANGE, Action.HELP, Action.LEAVE):
        assert {keys.key(action), keys.shortest(action)} & {*said.split()}, said


@pytest.mark.parametrize("step", [CUT, CHECK])
def test_with_room_enough_every_key_stands_at_the_foot_in_whole_words(step: Step) -> None:
    said = foot(80, step)
    words = [action.value for action in Action if action is not Action.MEASURED or step is CHECK]
    assert [word for word in said.split() if len(word) > 1 and word != "space"] == words


def test_words_are_shortened_before_a_key_is_left_out() -> None:
    assert foot(60, CHECK) == "space done u undo m meas. p pace c fix l log ? help q quit"
    assert foot(40, CUT) == "space done u undo c fix ? help q quit"
    assert foot(40, CHECK) == "space ok u undo m meas c fix ? q quit"


def test_the_pace_stands_at_the_foot_unless_it_is_a_step() -> None:
    assert " p pace: board " in foot(80, CUT, pace=Pace.BOARD)
    assert " p pace c " in foot(80, CUT)


def test_the_persons_own_keys_stand_at_the_foot() -> None:
    assert foot(80, CUT, own=OWN) == "f13 done z undo p pace insert change ? log f1 help esc leave"


@pytest.mark.parametrize("key", ["f13", "b", *FIXED[Action.DONE]])
async def test_own_keys_complete_a_step_and_the_fixed_ones_still_do(store: Store, session: Session, key: str) -> None:
    set_up(OWN)
    first = upcoming(session)
    async with opened(store, session) as shown:
        await shown.press(key)
        assert session.last_step() == first


@pytest.mark.parametrize("key", ["z", *FIXED[Action.UNDO]])
async def test_own_keys_take_back_a_step_and_the_fixed_ones_still_do(store: Store, session: Session, key: str) -> None:
    set_up(OWN)
    go(session, 1)
    async with opened(store, session) as shown:
        await shown.press(key)
        await shown.until_shown("Taken back")
        assert session.last_step() is None


@pytest.mark.parametrize("key", ["escape", *FIXED[Action.LEAVE]])
async def test_own_keys_leave_and_the_fixed_one_still_does(store: Store, session: Session, key: str) -> None:
    set_up(OWN)
    async with opened(store, session) as shown:
        await shown.pilot.press(key)
        await shown.until(lambda: shown.app._exit, "the app's end")


async def test_a_key_bound_to_something_else_does_that_and_its_usual_work_no_more(
    store: Store, session: Session
) -> None:
    set_up(OWN)
    async with opened(store, session) as shown:
        await shown.press("c")
        await shown.until_shown("c does nothing here: f1 shows the keys.")
        await shown.pilot.press("?")
        await shown.until_on(LogScreen)


async def test_the_help_names_the_persons_own_keys_and_they_close_it(store: Store, session: Session) -> None:
    set_up('[keys]\nhelp = ["h"]\ndone = ["f13"]\n')
    async with opened(store, session, size=(80, 40)) as shown:
        await shown.pilot.press("h")
        await shown.until_on(HelpScreen)
        await shown.until_shown("(also space, enter, right arrow, page down)")
        assert shown.shows("f13")
        assert shown.shows(f"Keys of your own, a bell, a longer wait: {places.walk_file()}")
        await shown.pilot.press("h")
        await shown.until_on(WalkScreen)


async def test_a_file_with_mistakes_is_told_and_the_walk_goes_on_with_the_usual_keys(
    store: Store, session: Session
) -> None:
    set_up('bell = 1\n[keys]\ndone = ["f13", "u"]\n')
    async with opened(store, session, size=(80, 40)) as shown:
        await shown.until_shown("The usual keys hold")
        await shown.until_shown('keys.done[2]: found "u", which always means "undo"')
        shown.seconds.passed += 1
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
        await shown.press("f13")
        assert session.last_step() is None
        await shown.press("space")
        assert session.last_step() is not None
        await shown.pilot.press("?")
        await shown.until_on(HelpScreen)
        await shown.until_shown("bell: found 1; expected true or false")


async def test_at_home_too_a_file_with_mistakes_is_told(store: Store) -> None:
    set_up("bel = true\n")
    async with opened(store) as shown:
        await shown.until_shown('bel: unknown key; did you mean "bell"?')
        shown.seconds.passed += 1
        await shown.pilot.press("enter")
        await shown.until_on(HomeScreen)


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("x", "x does nothing here: ? shows the keys."),
        ("left", "left arrow does nothing here: ? shows the keys."),
        ("up", "up arrow does nothing here: ? shows the keys."),
        ("escape", "esc does nothing here: ? shows the keys."),
        ("tab", "tab does nothing here: ? shows the keys."),
        ("full_stop", ". does nothing here: ? shows the keys."),
        ("f5", "f5 does nothing here: ? shows the keys."),
        ("left_square_bracket", "[ does nothing here: ? shows the keys."),
        ("U", "U does nothing here, but u does: caps lock may be on. ? shows the keys."),
        ("m", "Only a scrap cut is measured; this step is not one."),
    ],
)
async def test_a_key_that_does_nothing_says_why(store: Store, session: Session, key: str, said: str) -> None:
    async with opened(store, session) as shown:
        await shown.press(key)
        await shown.until_shown(said)
        assert session.last_step() is None


async def test_a_key_that_does_nothing_delays_the_next_by_no_more_than_a_moment(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await shown.until_ready()
        await shown.pilot.press("x")
        shown.seconds.passed += 1.6
        await shown.pilot.press("space")
        assert session.last_step() is not None


async def test_the_mouse_completes_nothing(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await shown.until_ready()
        await shown.pilot.click("#body")
        await shown.pilot.click("#keys")
        assert session.last_step() is None
        assert isinstance(shown.screen, WalkScreen)


async def test_a_longer_wait_may_stand_in_the_file(store: Store, session: Session) -> None:
    set_up("key_guard = 3\n")
    async with opened(store, session) as shown:
        await shown.press("space")
        await shown.until_shown("The step has just come up")
        shown.seconds.passed += 2
        await shown.pilot.press("space")
        assert session.last_step() is not None


def rings(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """When the bell rings from now on."""
    rung = list[float]()
    monkeypatch.setattr(shown.app, "bell", lambda: rung.append(shown.seconds.passed))
    return rung


async def test_the_bell_rings_at_a_key_that_is_not_counted_but_not_over_and_over(
    store: Store, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_up("bell = true\n")
    async with opened(store, session) as shown:
        rung = rings(shown, monkeypatch)
        await shown.until_ready()
        await shown.pilot.press("x", "x", "x")
        assert len(rung) == 1
        shown.seconds.passed += 1
        await shown.press("space")
        assert session.last_step() is not None
        assert len(rung) == 1
        await shown.pilot.press("space")
        assert len(rung) == 1  # a key held down
        shown.walk.guard.hidden()
        shown.seconds.passed += 1
        await shown.pilot.press("space")
        assert len(rung) == 2


async def test_the_bell_rings_where_the_fence_has_to_move(
    store: Store, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_up("bell = true\n")
    go(session, BEFORE_FIRST_CUT + 6)
    async with opened(store, session) as shown:
        rung = rings(shown, monkeypatch)
        await shown.press("space")
        assert not rung
        await shown.press("space")
        assert upcoming(session).kind is StepKind.SET_FENCE
        assert len(rung) == 1


async def test_without_being_asked_for_the_bell_never_rings(
    store: Store, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    go(session, BEFORE_FIRST_CUT + 7)
    async with opened(store, session) as shown:
        rung = rings(shown, monkeypatch)
        await shown.press("x")
        shown.seconds.passed += 1
        await shown.press("space")
        assert upcoming(session).kind is StepKind.SET_FENCE
        assert not rung


async def test_the_theme_is_remembered(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        assert shown.app.theme == DARK.name
        await shown.pilot.press("ctrl+t")
        assert shown.app.theme == LIGHT.name
    async with opened(store, session) as shown:
        assert shown.app.theme == LIGHT.name
        await shown.pilot.press("ctrl+t")
    assert recall().theme == DARK.name


async def test_a_theme_that_is_not_ours_is_not_taken(store: Store, session: Session) -> None:
    remember(theme="textual-dark", pace="hour")
    async with opened(store, session) as shown:
        assert shown.app.theme == DARK.name
        assert shown.app.context.pace is Pace.STEP


async def test_a_theme_that_cannot_be_remembered_is_changed_all_the_same(
    store: Store, session: Session, home: Path
) -> None:
    (home / "config").write_text("a file where the folder should be")
    async with opened(store, session) as shown:
        await shown.pilot.press("ctrl+t")
        assert shown.app.theme == LIGHT.name
        await shown.press("space")
        assert session.last_step() is not None


def test_every_action_has_a_key_as_usual() -> None:
    assert {**FIXED, **USUAL}.keys() == {*Action}


async def test_at_a_scrap_cut_m_measures_whatever_else_is_bound(store: Store, session: Session) -> None:
    set_up(OWN)
    go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await shown.press("m")
        await shown.until_shown("Measured from the edge")
