"""Keys that nobody meant: words typed where nothing asks for them, pasted text, keys quicker than a screen opens."""

from __future__ import annotations

import random

import pytest
from support.app_screens import Shown, opened
from support.small_batches import BEFORE_FIRST_CUT, Clock, go, go_to
from textual import events

from coach.plan.steps import StepKind
from coach.record.batch.session import Session
from coach.record.disk.store import Store

pytestmark = pytest.mark.usefixtures("home")

KEYS = (
    *"clqumphswynb1xf",
    *("question_mark", "slash", "space", "enter", "escape", "tab", "down", "up", "pagedown", "ctrl+t"),
)
CHARACTERS = {"space": " ", "question_mark": "?", "slash": "/"}


def key(name: str) -> events.Key:
    """A key as the terminal sends it."""
    return events.Key(name, CHARACTERS.get(name, name if len(name) == 1 else None))


async def type_words(shown: Shown, keys: str, between_s: float) -> None:
    """Types as a person does, a key after the other."""
    for sign in keys:
        shown.seconds.passed += between_s
        await shown.pilot.press({" ": "space", "\n": "enter"}.get(sign, sign))
        await shown.pilot.pause()


@pytest.mark.parametrize("words", ["m 3 in\n", "3 in\n", "x\n", "side 4 \n", "7 1/4 in\n"])
@pytest.mark.parametrize("between_s", [0.1, 0.3, 0.7])
async def test_words_typed_at_a_fence_step_complete_nothing(
    store: Store, session: Session, words: str, between_s: float
) -> None:
    go_to(session, StepKind.SET_FENCE)
    events_before = len(session.events)
    async with opened(store, session) as shown:
        shown.seconds.passed += 5
        await type_words(shown, words, between_s)
        await shown.until_shown("doesn't count: wait a moment")
    assert len(session.events) == events_before


async def test_a_moment_after_the_words_the_key_counts(store: Store, session: Session) -> None:
    go_to(session, StepKind.SET_FENCE)
    before = len(session.events)
    async with opened(store, session) as shown:
        shown.seconds.passed += 5
        await type_words(shown, "x", 0.5)
        await type_words(shown, " ", 2.0)
        await shown.until(lambda: len(session.events) == before + 1, "the step is recorded")


async def test_a_pedal_that_sends_nothing_but_its_own_key_is_never_held_up(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT)
    before = len(session.events)
    async with opened(store, session) as shown:
        for number in range(1, 4):
            shown.seconds.passed += 1.0
            await shown.pilot.press("enter")
            await shown.until(lambda wanted=before + number: len(session.events) == wanted, "a step")  # type: ignore[misc]


async def test_pasted_text_completes_nothing(store: Store, session: Session) -> None:
    go_to(session, StepKind.SET_FENCE)
    before = len(session.events)
    async with opened(store, session) as shown:
        shown.seconds.passed += 5
        shown.app.post_message(events.Paste(" \n \n"))
        await shown.pilot.pause()
        shown.seconds.passed += 5
        shown.app.post_message(events.Paste("side 1\n"))
        await shown.pilot.pause()
    assert len(session.events) == before


@pytest.mark.parametrize("seed", range(12))
async def test_no_keys_however_fast_end_in_a_traceback(store: Store, session: Session, clock: Clock, seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311 - no secret
    go(session, BEFORE_FIRST_CUT + 3)
    async with opened(store, session, clock=clock) as shown:
        for _ in range(12):
            keys = chance.choices(KEYS, k=chance.randint(2, 7))
            if chance.random() < 0.3:
                shown.app.post_message(events.Paste("c q\n l q\n"))
            for name in keys:
                shown.app.post_message(key(name))
            shown.seconds.passed += chance.choice((0.0, 0.3, 1.0))
            if chance.random() < 0.5:
                await shown.pilot.pause()
            if not shown.app.is_running:
                break


@pytest.mark.parametrize(
    "keys", [("c", "q"), ("l", "q"), ("question_mark", "q"), ("l", "q", "l", "q", "c", "escape", "q")]
)
async def test_a_key_for_the_screen_before_never_reaches_one_that_is_just_opening(
    store: Store, session: Session, keys: tuple[str, ...]
) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    async with opened(store, session) as shown:
        for _ in range(5):
            for name in keys:
                shown.app.post_message(key(name))
        await shown.pilot.pause()
