"""Home: what is under way and what can be started, found in folders, and started in a few keys."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from support.app_screens import Shown, opened
from support.plain_files import layout_text, shop_text
from support.small_batches import ALL_STEPS, BEFORE_FIRST_CUT, JOB, SETTINGS, Clock, go, upcoming
from textual.widgets import Input, OptionList

from coach.ground import places
from coach.ground.errors import CoachError
from coach.plan.steps import Step, StepKind
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.tui.home.found import find_layouts
from coach.tui.home.screen import FINISHED_SHOWN, HomeScreen
from coach.tui.home.starting import StartScreen
from coach.tui.screens.log import LogScreen
from coach.tui.walk.screen import WalkScreen

BROKEN = "format = 1\nname = \n"
IMPOSSIBLE = layout_text({"pin": '"0.3 mm"', "half_pin": '"0.2 mm"'}, root={"name": '"Too fine"'})


def put(folder: Path, name: str, text: str) -> Path:
    """Writes a file into `folder`/layouts."""
    file = folder / "layouts" / name
    file.parent.mkdir(exist_ok=True, parents=True)
    file.write_text(text, encoding="utf-8")
    return file


def named(name: str) -> str:
    """A plain layout of that name."""
    return layout_text(root={"name": f'"{name}"'})


@pytest.fixture
def shop_of_ones_own(home: Path) -> Path:
    """A shop where coach looks for the person's own."""
    file = places.shop_file()
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(shop_text(), encoding="utf-8")
    return file


async def highlight(shown: Shown, words: str) -> None:
    """Moves down until the option that holds `words` is highlighted."""
    await shown.until_on(HomeScreen)
    choices = shown.screen.query_one(OptionList)
    await shown.until(lambda: choices.option_count > 0, "a list")
    for _ in range(choices.option_count):
        at = choices.highlighted
        if at is not None and words in str(choices.get_option_at_index(at).prompt):
            return
        await shown.pilot.press("down")
    raise AssertionError(f"never highlighted: {words}; on the screen:\n{shown.text()}")


async def open_start(shown: Shown, words: str) -> StartScreen:
    """Opens the start screen of a layout."""
    await highlight(shown, words)
    await shown.pilot.press("enter")
    await shown.until_on(StartScreen)
    assert isinstance(shown.screen, StartScreen)
    return shown.screen


def name_field(shown: Shown) -> Input:
    """The field with the batch's name."""
    return shown.screen.query_one("#name", Input)


async def test_batches_under_way_stand_first_with_how_far_they_are_and_when_they_were_worked_on(
    store: Store, session: Session, clock: Clock
) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    clock.time += timedelta(days=1)
    go(start(store, "chest", JOB, SETTINGS, "mm"), BEFORE_FIRST_CUT + 9 + 1)
    async with opened(store, clock=clock) as shown:
        await shown.until_shown("Under way")
        lines = [line.strip() for line in shown.text().splitlines()]
        under_way = lines[lines.index("Under way") :]
        assert under_way[1] == "chest"
        assert under_way[2].endswith("9 of 16 cuts, last worked on today 09:30")
        assert under_way[3] == "drawers"
        assert under_way[4].endswith("3 of 16 cuts, last worked on yesterday 09:30")


async def test_finished_batches_stand_apart(store: Store, session: Session) -> None:
    go(session, ALL_STEPS)
    async with opened(store, size=(80, 40)) as shown:
        await shown.until_shown("No batch is under way: start one from a layout.")
        lines = [line.strip() for line in shown.text().splitlines()]
        finished = lines[lines.index("Finished") :]
        assert finished[1] == "drawers"
        assert finished[2].endswith("finished, last worked on today 09:30")


async def test_only_the_latest_finished_batches_are_listed(store: Store, home: Path) -> None:
    put(home, "a.toml", named("A"))
    for number in range(FINISHED_SHOWN + 2):
        go(start(store, f"batch {number}", JOB, SETTINGS, "mm"), ALL_STEPS)
    async with opened(store, size=(80, 60)) as shown:
        await shown.until_shown("Finished")
        assert shown.text().count("last worked on") == FINISHED_SHOWN


async def test_layouts_of_this_folder_and_of_ones_own_are_listed_with_their_boards(store: Store, home: Path) -> None:
    put(home, "here.toml", named("From here"))
    put(places.config_folder(), "mine.toml", layout_text({"boards": "1"}, root={"name": '"My own"'}))
    async with opened(store) as shown:
        await shown.until_shown("Layouts From here here.toml: 4 boards My own mine.toml: 1 board")
        assert not shown.shows("Samples (all invented)")


async def test_where_there_are_no_layouts_the_samples_are_offered_as_such(store: Store) -> None:
    async with opened(store, size=(80, 40)) as shown:
        await shown.until_shown("Samples (all invented)")
        assert shown.shows("shallow-drawers.toml: 13 boards")


async def test_shop_files_are_not_listed(store: Store, home: Path) -> None:
    put(home, "saw.toml", shop_text())
    put(home, "side.toml", named("Side"))
    async with opened(store) as shown:
        await shown.until_shown("side.toml")
        assert not shown.shows("saw.toml")


async def test_without_a_shop_of_ones_own_home_says_so_and_where_to_put_one(store: Store, home: Path) -> None:
    put(home, "side.toml", named("Side"))
    async with opened(store) as shown:
        await shown.until_shown("Sample shop in use, not yours")
        assert shown.shows(str(places.shop_file()))


async def test_with_a_shop_of_ones_own_home_says_nothing_of_the_sample(store: Store, home: Path) -> None:
    put(home, "side.toml", named("Side"))
    places.shop_file().parent.mkdir(parents=True, exist_ok=True)
    places.shop_file().write_text(shop_text(), encoding="utf-8")
    async with opened(store) as shown:
        await shown.until_shown("side.toml")
        assert not shown.shows("Sample shop")


def test_only_files_that_end_in_toml_are_looked_at(home: Path) -> None:
    put(home, "notes.txt", named("Notes"))
    put(home, "side.toml", named("Side"))
    (home / "layouts" / "folder.toml").mkdir()
    assert [found.name for found in find_layouts(home)] == ["Side"]


async def test_a_broken_file_is_listed_with_what_is_wrong(store: Store, home: Path) -> None:
    put(home, "broken.toml", BROKEN)
    async with opened(store) as shown:
        await shown.until_shown("broken.toml: not valid TOML")


@pytest.mark.parametrize("name", ["[bold]x[/]", "[/]", "$error"])
async def test_names_are_shown_as_they_were_written(store: Store, home: Path, name: str) -> None:
    start(store, f"batch {name}", JOB, SETTINGS, "mm")
    put(home, "side.toml", named(name))
    async with opened(store) as shown:
        await shown.until_shown(f"batch {name}")
        await shown.until_shown(f"Layouts {name} side.toml")
        await open_start(shown, "side.toml")
        await shown.until(lambda: name_field(shown).value == name, "the name")


@pytest.mark.usefixtures("shop_of_ones_own")
async def test_two_enters_start_a_batch_at_its_first_step(store: Store, home: Path) -> None:
    put(home, "side.toml", named("Side"))
    async with opened(store) as shown:
        await shown.until_shown("side.toml")
        await shown.pilot.press("enter")
        await shown.until_on(StartScreen)
        await shown.until_shown("4 boards, 32 cuts, 2 fence settings")
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
        await shown.until_shown("PREPARE The saw, its table and its fence")
        assert upcoming(shown.walk.session) == Step(StepKind.PREPARE, topic="saw")
    assert [row.name for row in store.batches()] == ["Side"]


async def test_the_enter_that_starts_a_batch_completes_no_step(store: Store, home: Path) -> None:
    put(home, "side.toml", named("Side"))
    async with opened(store) as shown:
        await open_start(shown, "side.toml")
        await shown.pilot.press("enter", "enter", "enter")
        await shown.until_on(WalkScreen)
        assert shown.walk.session.last_step() is None


async def test_without_a_shop_of_ones_own_the_start_says_that_the_sample_is_used(store: Store, home: Path) -> None:
    put(home, "side.toml", named("Side"))
    async with opened(store) as shown:
        await open_start(shown, "side.toml")
        await shown.until_shown("Sample shop in use, not yours")


async def test_several_layouts_marked_with_space_are_cut_together(store: Store, home: Path) -> None:
    for letter in "ABC":
        put(home, f"{letter}.toml", named(letter))
    async with opened(store) as shown:
        await highlight(shown, "A.toml")
        await shown.pilot.press("space", "down", "down", "space")
        await shown.until_shown("2 marked; enter cuts them together.")
        await shown.until_shown("+ A")
        await shown.pilot.press("enter")
        await shown.until_on(StartScreen)
        await shown.until_shown("A + C 8 boards, 64 cuts")
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
        assert [layout.name for layout in shown.walk.session.job.layouts] == ["A", "C"]


async def test_space_again_takes_the_mark_away(store: Store, home: Path) -> None:
    put(home, "A.toml", named("A"))
    async with opened(store) as shown:
        await highlight(shown, "A.toml")
        await shown.pilot.press("space", "space")
        await shown.until(lambda: not shown.shows("+ A"), "no mark")
        assert not shown.shows("marked")


async def test_a_batch_cannot_be_marked(store: Store, session: Session) -> None:
    async with opened(store) as shown:
        await highlight(shown, "drawers")
        await shown.pilot.press("space")
        await shown.until_shown("Only layouts can be marked; enter opens a batch.")


async def test_marks_of_files_that_are_gone_are_forgotten(store: Store, session: Session, home: Path) -> None:
    put(home, "B.toml", named("B"))
    gone = put(home, "A.toml", named("A"))
    async with opened(store) as shown:
        await highlight(shown, "A.toml")
        await shown.pilot.press("space")
        gone.unlink()
        await shown.pilot.press("up", "enter")
        await shown.until_on(WalkScreen)
        await shown.pilot.press("q")
        await shown.until_on(HomeScreen)
        await shown.until(lambda: not shown.shows("A.toml"), "the list without A")
        await open_start(shown, "B.toml")
        await shown.until(lambda: name_field(shown).value == "B", "the name B")


async def test_a_layout_that_cannot_be_cut_shows_every_problem_and_starts_nothing(store: Store, home: Path) -> None:
    put(home, "fine.toml", IMPOSSIBLE)
    async with opened(store, size=(100, 40)) as shown:
        await open_start(shown, "fine.toml")
        await shown.until_shown("This can't be cut:")
        # Sockets narrower than the blade: those at the edges and the one between the tails.
        for problem in ("half_pin: ", "is 0.2 mm wide at the end", "].pin: ", "is 0.3 mm wide at the end"):
            assert shown.shows(problem)
        await shown.pilot.press("enter", "enter")
        assert isinstance(shown.screen, StartScreen)
        await shown.pilot.press("escape")
        await shown.until_on(HomeScreen)
    assert not store.batches()


async def test_all_mistakes_of_a_file_are_shown_at_once(store: Store, home: Path) -> None:
    put(home, "bad.toml", layout_text({"width": '"57"', "tails": '"two"', "colour": '"red"'}))
    async with opened(store, size=(100, 40)) as shown:
        await open_start(shown, "bad.toml")
        for word in ("width", "tails", "colour"):
            await shown.until_shown(f"{word}:")


async def test_a_name_that_is_taken_gets_the_next_free_number(store: Store, home: Path) -> None:
    start(store, "Side", JOB, SETTINGS, "mm")
    go(start(store, "Side 2", JOB, SETTINGS, "mm"), ALL_STEPS)
    put(home, "side.toml", named("Side"))
    async with opened(store) as shown:
        await open_start(shown, "side.toml")
        await shown.until(lambda: name_field(shown).value == "Side 3", "the name Side 3")
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
    assert {row.name for row in store.batches()} == {"Side", "Side 2", "Side 3"}


async def test_a_name_of_ones_own_can_be_typed(store: Store, home: Path) -> None:
    put(home, "side.toml", named("Side"))
    async with opened(store) as shown:
        await open_start(shown, "side.toml")
        await shown.until(lambda: name_field(shown).value == "Side", "the name")
        await shown.paste("For May")
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
    assert [row.name for row in store.batches()] == ["For May"]


@pytest.mark.parametrize(("name", "said"), [("drawers", "is in the record already"), ("  ", "the batch's name")])
async def test_a_name_that_cannot_be_is_refused_beside_the_field(
    store: Store, session: Session, home: Path, name: str, said: str
) -> None:
    put(home, "side.toml", named("Side"))
    async with opened(store) as shown:
        await open_start(shown, "side.toml")
        name_field(shown).value = name
        await shown.pilot.press("enter")
        await shown.until_shown(said)
        assert isinstance(shown.screen, StartScreen)
    assert len(store.batches()) == 1


async def test_a_record_that_cannot_be_read_is_told_at_home_and_at_the_start(
    store: Store, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise CoachError("coach.db: held by another program")

    put(home, "side.toml", named("Side"))
    monkeypatch.setattr(store, "batches", fails)
    monkeypatch.setattr(store, "batch_named", fails)
    async with opened(store) as shown:
        await shown.until_shown("coach.db: held by another program")
        await open_start(shown, "side.toml")
        await shown.until_shown("coach.db: held by another program")


async def test_enter_on_a_batch_carries_it_on_where_it_was(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    async with opened(store) as shown:
        await highlight(shown, "drawers")
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
        assert upcoming(shown.walk.session) == upcoming(session)


async def test_enter_on_a_finished_batch_shows_its_log(store: Store, session: Session, home: Path) -> None:
    put(home, "side.toml", named("Side"))
    go(session, ALL_STEPS)
    async with opened(store) as shown:
        await highlight(shown, "drawers")
        await shown.pilot.press("enter")
        await shown.until_on(LogScreen)
        await shown.until_shown("2 of 2 boards all cut, 0 cuts left")


async def test_l_shows_the_log_of_the_batch_and_escape_comes_back(store: Store, session: Session) -> None:
    async with opened(store) as shown:
        await highlight(shown, "drawers")
        await shown.pilot.press("l")
        await shown.until_on(LogScreen)
        await shown.pilot.press("escape")
        await shown.until_on(HomeScreen)


async def test_a_layout_has_no_log(store: Store, home: Path) -> None:
    put(home, "side.toml", named("Side"))
    async with opened(store) as shown:
        await highlight(shown, "side.toml")
        await shown.pilot.press("l")
        await shown.until_shown("A log belongs to a batch")


async def test_leaving_a_walk_comes_back_home_where_the_batch_has_come_further(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT)
    async with opened(store) as shown:
        await shown.until_shown("0 of 16 cuts")
        await highlight(shown, "drawers")
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
        await shown.press("space", "space", "space")
        await shown.pilot.press("q")
        await shown.until_on(HomeScreen)
        await shown.until_shown("3 of 16 cuts")


async def test_q_at_home_leaves(store: Store) -> None:
    async with opened(store) as shown:
        await shown.pilot.press("q")
        await shown.until(lambda: shown.app._exit, "the app's end")
        assert shown.app.context.left_batch is None


async def test_home_without_unicode_shows_plain_signs(store: Store, session: Session) -> None:
    async with opened(store, plain=True) as shown:
        await shown.until_shown("0 of 16 cuts")
        assert shown.shows("-" * 12)


async def test_a_damaged_batch_is_shown_as_damaged_and_the_others_are_opened(store: Store, session: Session) -> None:
    start(store, "rotten", JOB, SETTINGS, "mm")
    start(store, "junk", JOB, SETTINGS, "mm")
    store._connection.execute("DROP TRIGGER events_no_update")
    store._connection.execute("UPDATE events SET data = replace(data, 'ends', 'enda') WHERE batch = 2")
    store._connection.execute("UPDATE batches SET last = char(27) || '[31m' WHERE id = 3")
    async with opened(store) as shown:
        await shown.until_on(HomeScreen)
        await shown.until(lambda: shown.text().count("damaged: coach recover") == 2, "both are marked")
        assert "\x1b" not in shown.text()
        choices = shown.screen.query_one("#choices", OptionList)
        for name in ("rotten", "junk"):
            row = next(index for index, option in enumerate(choices.options) if name in str(option.prompt))
            choices.highlighted = row
            await shown.pilot.press("enter")
            await shown.until_shown(f"the batch “{name}” is damaged")
            assert isinstance(shown.screen, HomeScreen)
        row = next(index for index, option in enumerate(choices.options) if session.name in str(option.prompt))
        choices.highlighted = row
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
