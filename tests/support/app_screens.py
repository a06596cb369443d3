"""The app in a test: a frozen clock, keys pressed once a step stands on the screen, and what the screen shows."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from typing import Any

from rich.segment import Segment
from support.small_batches import Clock
from textual import events
from textual._context import visible_screen_stack
from textual.pilot import Pilot
from textual.screen import Screen
from textual.strip import Strip
from textual.widgets import Input

from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.talk.context import Context
from coach.tui.app import CoachApp
from coach.tui.drawing.turns import PICTURE_COLUMNS
from coach.tui.walk.screen import WalkScreen
from coach.tui.walk.sharing import BETWEEN

POLLS = 3000
POLL_S = 0.005
SIZE = (80, 24)


@dataclass
class Seconds:
    """Seconds for the key guard, which stand until they are moved."""

    passed: float = 100.0

    def __call__(self) -> float:
        return self.passed


@dataclass
class Shown:
    """The app while it runs."""

    app: CoachApp
    pilot: Pilot[None]
    seconds: Seconds = field(default_factory=Seconds)

    @property
    def screen(self) -> Screen[Any]:
        """The screen on top."""
        return self.app.screen

    @property
    def walk(self) -> WalkScreen:
        """The walk, which has to be on top."""
        assert isinstance(self.app.screen, WalkScreen)
        return self.app.screen

    async def until(self, condition: Callable[[], bool], what: str) -> None:
        """Waits until `condition` holds."""
        for _ in range(POLLS):
            if condition():
                return
            await self.pilot.pause(POLL_S)
        raise AssertionError(f"never came: {what}; on the screen:\n{self.text()}")

    async def until_shown(self, words: str) -> None:
        """Waits until the screen shows `words`, however they are wrapped."""
        await self.until(lambda: self.shows(words), f"“{words}”")

    async def until_on(self, screen: type[Screen[Any]]) -> None:
        """Waits until a screen of that class is on top and laid out."""
        await self.until(
            lambda: (
                isinstance(self.app.screen, screen) and self.app.screen.is_mounted and self.app.screen.size.area > 0
            ),
            screen.__name__,
        )

    async def until_ready(self) -> None:
        """Waits until the step on the screen is painted; then it has been there for long enough."""
        await self.until(lambda: self.walk.guard._shown_at is not None, "a painted step")
        self.seconds.passed += 1.0

    async def press(self, *keys: str) -> None:
        """Presses keys in the walk, each once the step is on the screen."""
        for key in keys:
            await self.until_ready()
            await self.pilot.press(key)

    async def type_in(self, text: str) -> None:
        """Types `text`."""
        await self.pilot.press(*("space" if sign == " " else sign for sign in text))

    async def paste(self, text: str) -> None:
        """Pastes `text` into the field that is focused."""
        field = self.app.focused
        assert isinstance(field, Input)
        self.app.post_message(events.Paste(text))
        await self.until(lambda: text in field.value, f"“{text}” in the field")

    def strips(self) -> list[Strip]:
        """The rows of the screen as they are rendered."""
        visible_screen_stack.set(self.app._background_screens)
        return self.app.screen._compositor.render_strips()

    def segments(self) -> list[Segment]:
        """Every piece of text on the screen, with its colours."""
        return [segment for strip in self.strips() for segment in strip]

    def text(self) -> str:
        """What is on the screen."""
        return "\n".join(strip.text.rstrip() for strip in self.strips())

    def shows(self, words: str) -> bool:
        """Whether `words` are on the screen in whole, however they are wrapped."""
        return any(squeezed(words) in squeezed(text) for text in (self.text(), beside_picture(self.text())))


def beside_picture(text: str) -> str:
    """What stands to the right of a turn's picture, where its words may be, in the text of a screen."""
    return "\n".join(line[1 + PICTURE_COLUMNS + BETWEEN :] for line in text.splitlines())


def squeezed(text: str) -> str:
    """`text` without blanks, line ends and the bars beside a note."""
    return re.sub(r"[\s▌▐]+", "", text)


@asynccontextmanager
async def opened(
    store: Store,
    session: Session | None = None,
    *,
    clock: Clock | None = None,
    size: tuple[int, int] = SIZE,
    plain: bool = False,
    advice: Sequence[str] = (),
) -> AsyncIterator[Shown]:
    """The app on `session`, or at home without one."""
    seconds = Seconds()
    context = Context(store, plain=plain, clock=seconds, now=clock or Clock())
    app = CoachApp(context, session, advice)
    async with app.run_test(size=size, notifications=True) as pilot:
        shown = Shown(app, pilot, seconds)
        await shown.until(lambda: len(app.screen_stack) > 1 and app.screen.is_mounted, "the first screen")
        if session is not None:
            walks = [screen for screen in app.screen_stack if isinstance(screen, WalkScreen)]
            await shown.until(lambda: any(walk._on_screen for walk in walks), "the walk")
        yield shown
