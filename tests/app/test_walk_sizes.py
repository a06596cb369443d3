"""The walk in windows of every size: what must be seen is seen, and a terminal without Unicode can show it."""

from __future__ import annotations

import math
import re
from collections.abc import AsyncIterator, Callable
from datetime import timedelta
from itertools import product

import pytest
from rich.cells import cell_len
from support.app_screens import Shown, beside_picture, opened, squeezed
from support.glyph_reader import large_on
from support.small_batches import BEFORE_FIRST_CUT, JOB, SETTINGS, Clock, go, go_to, upcoming
from support.small_jobs import job, joint, part, shop

from coach.ground.places import sample_layouts_folder
from coach.ground.terms import End
from coach.loading import load
from coach.plan.deciding.decide import decide
from coach.plan.job import Job
from coach.plan.steps import Step, StepKind
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.talk.signs import SPELLED
from coach.talk.warning import reminders_at
from coach.telling.phrases import TURN_WORDS, Saying
from coach.telling.steps.step import Told, tell
from coach.trade.reminders import Reminder, Signal, reminders
from coach.tui.dialogs.measuring import MeasureScreen
from coach.tui.paint import recent_lines
from coach.tui.walk.text import LEAST_COLUMNS, LEAST_ROWS, Window, body

MM = Saying("mm", None)
SIZES = [(80, 24), (60, 20), (120, 40), (40, 15)]


EVERY_SIZE = [*SIZES, (100, 30), (200, 60)]
SAMPLES = sample_layouts_folder()


def told_now(session: Session) -> Told:
    """The step to do now, in words."""
    return tell(session.walker, upcoming(session), MM)


def missing(text: str, session: Session, saying: Saying, *, plain: bool) -> list[str]:
    """What of the step to do now, of its gravest reminder and of the progress isn't whole in the text of a screen."""
    step = upcoming(session)
    told, gravest = tell(session.walker, step, saying), reminded(session, step)[0]
    lines = list(told.lines[: 2 if step.kind is StepKind.CHECK else None])
    if step.kind is StepKind.CUT and step.turn is not None:
        lines[0] = TURN_WORDS[step.turn][1:]
    places = squeezed(text), squeezed(beside_picture(text))

    def whole(words: str) -> bool:
        return any(squeezed(words.translate(SPELLED) if plain else words) in place for place in places)

    needed = [f"{gravest.signal.value} {gravest.text}", told.kind.upper(), *lines]
    lacking = [words for words in needed if not whole(words)]
    if not whole(told.headline) and not in_large_letters(told.headline, text, whole, plain=plain):
        lacking.append(told.headline)
    if PROGRESS.search(text) is None and step.kind is not StepKind.PREPARE:
        lacking.append("progress")
    return lacking


def in_large_letters(headline: str, text: str, whole: Callable[[str], bool], *, plain: bool) -> bool:
    """Whether a headline that ends in a length stands there with the length in large letters below it."""
    what, length = re.split(r"(?<=fence to) |: ", headline, maxsplit=1)
    main, _, rest = re.fullmatch(r"(.*?)( ([+-] [0-9.]+))?", length).groups()  # type: ignore[union-attr]
    large = large_on(text, plain=plain)
    return whole(what) and (length in large or (main in large and (rest is None or rest in large or whole(rest))))


PROGRESS = re.compile(r"cuts? left, \d+ board|cut: a good place to stop|cuts( done)?, \d+( of |/)\d+ boards|steps done")


@pytest.mark.parametrize(
    ("layout", "shop_file"), [("from-marks.toml", "shop-inches.toml"), ("shallow-drawers.toml", "shop-mm.toml")]
)
def test_nothing_important_is_cut_off_at_any_size_in_either_shop_and_either_set_of_signs(
    store: Store, layout: str, shop_file: str
) -> None:
    loaded = load([SAMPLES / layout], SAMPLES / shop_file, None)
    session = start(store, "sizes", loaded.job, loaded.settings, loaded.unit)
    saying = Saying(session.unit, session.job.shop.fence.graduation)
    met = set()
    while (step := session.next()) is not None:
        seen = (step.kind, step.topic, step.turn, step.setting if step.kind is StepKind.SET_FENCE else None)
        if seen not in met:
            met.add(seen)
            for (columns, rows), plain in product(EVERY_SIZE, (False, True)):
                shown = body(session, [step], saying, "", Window(columns, rows, plain))
                text = "\n".join(line.plain for line in shown)
                lines = text.split("\n")
                assert len(lines) == rows - 2
                assert all(cell_len(line) <= columns - 2 for line in lines if line not in recent(session, saying))
                lacking = missing("\n".join(f" {line}" for line in lines), session, saying, plain=plain)
                assert not lacking, f"{lacking} at {columns}x{rows}{' plain' if plain else ''}:\n{text}"
                assert not plain or text.isascii()
        session.complete(step)
    assert {kind for kind, *_ in met} == set(StepKind)


def recent(session: Session, saying: Saying) -> set[str]:
    """The lines of the latest steps, which may be cut off."""
    lines = (line.plain for line in recent_lines(session.walker, session.events, saying, 12, session.moment()))
    return {shown for line in lines for shown in (line, line.translate(SPELLED))}


def reminded(session: Session, step: Step) -> tuple[Reminder, ...]:
    """What a step reminds of, the gravest first."""
    walker = session.walker
    last = walker.cuts_left_in_all == 0 and walker.steps_at_bench_left == 1
    if step.kind is StepKind.SET_FENCE:
        return reminders_at(session, step)
    return reminders(step.kind.value, topic=step.topic, last=last)


async def until_stands(shown: Shown) -> None:
    """Waits until the step to do now is on the screen with all that matters."""
    plain = shown.app.context.plain

    def lacking() -> list[str]:
        return missing(shown.text(), shown.walk.session, MM, plain=plain)

    await shown.until(lambda: not lacking(), f"{lacking()}")


async def every_step(shown: Shown) -> AsyncIterator[Step]:
    """Goes through the whole batch, each step once it is on the screen."""
    session = shown.walk.session
    while (step := session.next()) is not None:
        shown.walk.show()
        await until_stands(shown)
        yield step
        session.complete(step)


@pytest.mark.parametrize("size", SIZES)
async def test_headline_particulars_and_the_gravest_reminder_are_whole_at_every_step(
    store: Store, session: Session, size: tuple[int, int]
) -> None:
    async with opened(store, session, size=size) as shown:
        async for _ in every_step(shown):
            keys = shown.text().splitlines()[-1]
            assert "space" in keys and "undo" in keys, shown.text()


@pytest.mark.parametrize("size", SIZES)
async def test_after_a_break_and_a_correction_too_all_that_matters_is_whole(
    store: Store, session: Session, clock: Clock, size: tuple[int, int]
) -> None:
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.5)
    go(session, 3)
    clock.time += timedelta(hours=1)
    async with opened(store, session, size=size, clock=clock) as shown:
        for _ in range(3):
            shown.walk.show()
            await until_stands(shown)
            go(session, 1)


@pytest.mark.parametrize("size", SIZES)
async def test_how_many_cuts_are_left_at_this_setting_is_seen_in_every_window(
    store: Store, session: Session, size: tuple[int, int]
) -> None:
    async with opened(store, session, size=size) as shown:
        async for step in every_step(shown):
            if step.kind is StepKind.CUT and step.setting is not None:
                left = session.walker.cuts_left(step.setting)
                assert shown.shows(f"{left} cut{'s' if left > 1 else ''} left, "), shown.text()


async def test_at_every_step_a_signal_word_is_seen_and_at_most_two_reminders(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        async for step in every_step(shown):
            found = [line.split()[0] for line in shown.text().splitlines() if line.split()]
            said = [word for word in found if word in set(Signal)]
            assert said == [reminder.signal.value for reminder in reminded(session, step)]
            assert 1 <= len(said) <= 2


@pytest.mark.parametrize("size", SIZES)
async def test_what_went_wrong_is_told_in_every_window(store: Store, session: Session, size: tuple[int, int]) -> None:
    async with opened(store, session, size=size) as shown:
        for steps in (0, BEFORE_FIRST_CUT - 1, 1):
            go(session, steps)
            shown.walk.show()
            await until_stands(shown)
            await shown.pilot.press("space")
            await shown.until_shown("The step has just come up: look at it, then press again.")
            shown.seconds.passed += 1


@pytest.mark.parametrize("size", [(39, 15), (40, 14), (20, 8), (30, 50)])
async def test_a_window_too_small_says_the_size_that_is_needed_and_keys_do_nothing(
    store: Store, session: Session, size: tuple[int, int]
) -> None:
    go_to(session, StepKind.CHECK)
    events = len(session.events)
    async with opened(store, session, size=size) as shown:
        await shown.until_shown("The walk needs at least 40 columns by 15 rows")
        assert shown.shows(f"this window has {size[0]} by {size[1]}.")
        for key in ("space", "enter", "u", "m"):
            shown.seconds.passed += 10
            await shown.pilot.press(key)
        assert len(session.events) == events
        assert not isinstance(shown.screen, MeasureScreen)


async def test_made_larger_again_the_walk_goes_on_where_it_was(store: Store, session: Session) -> None:
    step = go_to(session, StepKind.SET_FENCE)
    async with opened(store, session, size=(39, 10)) as shown:
        await shown.until_shown("The walk needs at least")
        await shown.pilot.resize_terminal(80, 24)
        await shown.until_shown(f"{told_now(session).kind.upper()} {told_now(session).headline}")
        await shown.press("space")
        assert session.last_step() == step


async def test_q_leaves_a_window_that_is_too_small_too(store: Store, session: Session) -> None:
    async with opened(store, session, size=(20, 8)) as shown:
        await shown.pilot.press("q")
        await shown.until(lambda: shown.app._exit, "the app's end")


async def test_a_key_counts_only_once_a_resized_step_has_stood(store: Store, session: Session) -> None:
    async with opened(store, session, size=(120, 40)) as shown:
        await shown.until_ready()
        await shown.pilot.resize_terminal(80, 24)
        await shown.until(lambda: shown.app.size.width == 80, "the new size")
        await shown.pilot.press("space")
        await shown.until_shown("The step has just come up")
        assert session.last_step() is None


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("label", ["the long drawer side of the counter", "引き出しの側板を長く書いたもの"])
async def test_a_long_label_is_shown_whole(store: Store, size: tuple[int, int], label: str) -> None:
    end = joint((5.0, 30.5))
    boards = job([part({End.A: end, End.B: end}, label=label)])
    session = start(store, "long", boards, decide(boards), "mm")
    go_to(session, StepKind.CUT)
    async with opened(store, session, size=size) as shown:
        for _ in range(3):
            shown.walk.show()
            await until_stands(shown)
            go(session, 1)


def many_settings() -> Job:
    """A board with more settings than a small window has rows for."""
    marks = [4.0 + 24.0 * tail + 0.3 * tail * tail for tail in range(12)]
    width = marks[-1] + 40.0
    end = joint(marks, [width - mark - 12.0 for mark in reversed(marks)])
    tools = shop(throat_mm=1000.0, fence_max_mm=1000.0)
    return job([part({End.A: end}, boards=2, width_mm=width)], tools)


async def test_where_not_all_settings_fit_the_one_to_set_is_among_those_shown(store: Store) -> None:
    boards = many_settings()
    session = start(store, "many", boards, decide(boards), "mm")
    count = len(session.walker.settings.fence_mm)
    assert count > 12
    async with opened(store, session) as shown:
        for index in range(count):
            go_to(session, StepKind.SET_FENCE)
            shown.walk.show()
            await shown.until_shown(f"> setting {index + 1} ")
            go(session, 1)


@pytest.mark.parametrize("size", SIZES)
async def test_a_terminal_without_unicode_gets_plain_signs_only(
    store: Store, session: Session, size: tuple[int, int]
) -> None:
    async with opened(store, session, size=size, plain=True) as shown:
        async for _ in every_step(shown):
            assert shown.text().isascii(), shown.text()
        shown.walk.show()
        await shown.until_shown("The batch is done.")
        assert shown.text().isascii()


async def test_without_unicode_a_correction_is_plain_and_a_label_stays_as_it_was_written(store: Store) -> None:
    end = joint((5.0, 30.5))
    boards = job([part({End.A: end, End.B: end}, label="Ö side")])
    session = start(store, "Ö batch", boards, decide(boards), "mm")
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.5)
    async with opened(store, session, plain=True) as shown:
        await shown.until_shown("Corrected by the scrap cut: -0.5 mm.")
        go_to(session, StepKind.TRANSFER)
        shown.walk.show()
        await shown.until_shown('write "Ö side 1 A" on both')
        assert {sign for sign in shown.text() if not sign.isascii()} == {"Ö"}


async def test_a_name_too_long_for_a_window_without_unicode_is_cut_off_in_plain_signs(store: Store) -> None:
    session = start(store, "n" * 60, JOB, SETTINGS, "mm")
    async with opened(store, session, size=(40, 15), plain=True) as shown:
        await shown.until_shown("n" * 38)
        assert shown.text().isascii(), shown.text()


def test_the_least_window_is_the_smallest_of_those_that_are_looked_at_here() -> None:
    assert min(SIZES) == (LEAST_COLUMNS, LEAST_ROWS)


async def test_the_bars_are_as_full_as_the_batch_is_far(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 4)
    async with opened(store, session, plain=True) as shown:
        await shown.until_shown("4 cuts left, 1 board")
        lines = shown.text().splitlines()
        for name, share in (("Setting 1 of 2", 4 / 8), ("Batch", 4 / 16)):
            line = next(line for line in lines if line.strip().startswith(f"{name} "))
            filled, empty = line.count("#"), line.count("-")
            assert filled == math.floor((filled + empty) * share)
