"""What the snapshots show: steps and screens, at which sizes and in which looks, and how each is reached."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass
from typing import Any

from support.app_screens import Shown
from support.changing_dialogs import WRONG, answer, menu
from textual.screen import Screen

from coach.ground.terms import Turn
from coach.plan.steps import StepKind
from coach.record.batch.session import Session
from coach.talk.pace import Pace
from coach.tui.dialogs.asking import Ask, Choose
from coach.tui.dialogs.measuring import MeasureScreen
from coach.tui.home.screen import HomeScreen
from coach.tui.home.starting import StartScreen
from coach.tui.screens.help import HelpScreen
from coach.tui.screens.log import LogScreen
from coach.tui.theme import DARK, LIGHT
from coach.tui.walk.screen import WalkScreen

LOOKS = {"dark": DARK, "light": LIGHT, "ascii": DARK}
"""The theme of each look; in "ascii" the terminal has no Unicode."""
HANDS_FULL = 8
"""Cuts after which a walk is in its stride."""


@dataclass(frozen=True, slots=True)
class Shot:
    """A scene at a size, in a look."""

    scene: str
    columns: int
    rows: int
    look: str

    @property
    def name(self) -> str:
        """What its file is called."""
        return f"{self.scene}-{self.columns}x{self.rows}-{self.look}"

    @property
    def plain(self) -> bool:
        """Whether the terminal has no Unicode."""
        return self.look == "ascii"


@dataclass(frozen=True, slots=True)
class Scene:
    """One thing to be seen.

    Attributes:
        taken: at which sizes in which looks, such as "80x24 dark, 40x15 ascii".
        words: what is on the screen once it is there.
        at: whether the walk has come to the step where it is seen; None where that is the step of the scene before.
        pace: of the walk.
        opens: how to get there from the walk or from home.
        screen: what is on top then.
    """

    name: str
    taken: str
    words: str
    at: Callable[[Session], bool] | None = None
    pace: Pace = Pace.STEP
    opens: Callable[[Shown], Awaitable[None]] | None = None
    screen: type[Screen[Any]] = WalkScreen

    def shots(self) -> Iterator[Shot]:
        """The scene at each size, in each look."""
        for each in self.taken.split(", "):
            size, look = each.split(" ")
            columns, rows = map(int, size.split("x"))
            yield Shot(self.name, columns, rows, look)


def to(kind: StepKind, cuts: int = 0) -> Callable[[Session], bool]:
    """Whether a step of that kind is next, after so many cuts."""

    def come(session: Session) -> bool:
        step = session.next()
        return step is not None and step.kind is kind and len(session.walker.done) >= cuts

    return come


def to_turn(turn: Turn | None, cuts: int = HANDS_FULL) -> Callable[[Session], bool]:
    """Whether a cut is next, after so many, to which a board in hand comes by that turn, or by none."""

    def come(session: Session) -> bool:
        step = session.next()
        known = step is not None and step.side is not None and step.side.board in session.walker.lies
        return known and step is not None and step.turn is turn and len(session.walker.done) >= cuts

    return come


def done(session: Session) -> bool:
    """Whether the batch is done."""
    return session.next() is None


def key(pressed: str) -> Callable[[Shown], Awaitable[None]]:
    """Presses a key in the walk, once the step on the screen may be answered."""

    async def press(shown: Shown) -> None:
        await shown.press(pressed)

    return press


async def too_early(shown: Shown) -> None:
    """Presses a key as soon as the step is on the screen."""
    await shown.until(lambda: shown.walk.guard._shown_at is not None, "a painted step")
    await shown.pilot.press("space")


async def how_far(shown: Shown) -> None:
    """Says that the latest cut went into the tail, up to the question how far."""
    await menu(shown, WRONG, "09:", "Off the line, into the tail")


async def mistake(shown: Shown) -> None:
    """The same, up to the question that tells what comes of it."""
    await how_far(shown)
    await answer(shown, "0.5 mm")


async def not_a_length(shown: Shown) -> None:
    """The same, with an answer that is refused."""
    await how_far(shown)
    await answer(shown, "2")


async def second_layout(shown: Shown) -> None:
    """Chooses the second layout at home, which stands third: below the batch under way."""
    await shown.pilot.press("home", "down", "down", "enter")


KIND = StepKind
MILLIMETRES = (
    Scene("prepare", "80x24 dark, 40x15 light, 60x20 ascii", "PREPARE", to(KIND.PREPARE)),
    Scene("set-fence", "80x24 dark, 120x40 light, 40x15 ascii", "fence to", to(KIND.SET_FENCE)),
    Scene("scrap-cut", "40x15 dark, 80x24 light, 100x30 ascii", "kerf", to(KIND.CHECK)),
    Scene("measuring", "80x24 dark, 40x15 light, 60x20 ascii", "should stand at", opens=key("m"), screen=MeasureScreen),
    Scene("key-too-early", "40x15 dark, 80x24 light, 60x20 ascii", "has just come up", to(KIND.CUT), opens=too_early),
    Scene("board-pace", "80x24 dark, 40x15 light, 60x20 ascii", "all with one key", pace=Pace.BOARD),
    Scene("setting-pace", "120x40 dark, 60x20 light, 40x15 ascii", "all with", pace=Pace.SETTING),
    Scene("asked-twice", "80x24 dark, 40x15 light", "really all cut?", pace=Pace.SETTING, opens=key("space")),
    Scene("cut-taken-up", "60x20 dark, 100x30 light, 40x15 ascii, 120x40 ascii", "Check"),
    Scene(
        "cut-edge-for-edge",
        "40x15 dark, 120x40 dark, 80x24 light, 60x20 ascii, 200x60 ascii",
        "Check",
        to_turn(Turn.EDGE_FOR_EDGE),
    ),
    Scene(
        "cut-end-for-end",
        "80x24 dark, 40x15 light, 200x60 light, 100x30 ascii",
        "Check",
        to_turn(Turn.END_FOR_END),
    ),
    Scene("help", "40x15 dark, 80x24 light", "Keys", opens=key("question_mark"), screen=HelpScreen),
    Scene("log", "80x24 dark, 40x15 light, 60x20 ascii", "all cut", opens=key("l"), screen=LogScreen),
    Scene("change-menu", "80x24 dark, 40x15 light", "What is to change?", opens=menu, screen=Choose),
    Scene("question", "40x15 dark, 80x24 light", "Yes, so it is", opens=mistake, screen=Choose),
    Scene("answer-refused", "80x24 dark, 40x15 light", "needs a unit", opens=not_a_length, screen=Ask),
    Scene("too-small", "39x15 dark, 20x8 light, 30x14 ascii", "The walk needs at least"),
    Scene("cut-as-it-lies", "40x15 dark, 200x60 dark, 120x40 light", "Check", to_turn(None)),
    Scene("clear", "80x24 dark, 200x60 light, 40x15 ascii", "side 1, end A", to(KIND.CLEAR)),
    Scene("mark-pins", "40x15 dark, 80x24 light", "MARK THE PINS", to(KIND.TRANSFER)),
    Scene("saw-pins", "60x20 dark, 120x40 ascii", "side 1, end A", to(KIND.SAW_PIN)),
    Scene("fit", "100x30 light, 40x15 ascii", "side 1, end A", to(KIND.FIT)),
    Scene("done", "80x24 dark, 40x15 light", "The batch is done.", done),
)
"""In the order of the walk: a batch of drawer sides in millimetres."""

INCHES = (
    Scene("set-fence-in-inches", "40x15 dark, 80x24 light, 100x30 ascii", "fence to", to(KIND.SET_FENCE)),
    Scene("scrap-cut-in-inches", "120x40 dark, 40x15 light", "kerf", to(KIND.CHECK)),
    Scene(
        "cut-end-over-end",
        "40x15 dark, 100x30 dark, 60x20 light, 80x24 ascii",
        "Check",
        to_turn(Turn.END_OVER_END),
    ),
    Scene("fence-between-lines", "60x20 dark, 40x15 light, 80x24 ascii", "fence to", to(KIND.SET_FENCE, HANDS_FULL)),
)
"""A batch whose marks want readings between the graduations."""

HOME = (
    Scene("home", "80x24 dark, 40x15 light, 60x20 ascii", "Under way", screen=HomeScreen),
    Scene("starting", "40x15 dark, 80x24 light", "start the batch", opens=second_layout, screen=StartScreen),
)


def all_shots() -> list[Shot]:
    """Everything that is to be taken."""
    return [shot for scene in (*MILLIMETRES, *INCHES, *HOME) for shot in scene.shots()]
