"""The walk's keys: what each does, how it is called, and the line at the foot of the screen that names them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rich.cells import cell_len
from textual.content import Content

from coach.plan.steps import Step, StepKind
from coach.preferences import Action
from coach.talk.pace import Pace

APP_KEYS = ("ctrl+c", "ctrl+q", "ctrl+t")
"""What the app does on every screen."""
SHORT = {Action.MEASURED: "meas.", Action.CHANGE: "fix", Action.LEAVE: "quit"}
SHORTEST = {**SHORT, Action.MEASURED: "meas", Action.DONE: "ok", Action.HELP: ""}
"""The same words where there is less room; a question mark alone still asks for help."""
DROPPED = (Action.PACE, Action.LOG, Action.MEASURED)
"""What a narrow window does without, in this order; the help names it, and a scrap cut says that it is measured."""
SHOWN = {
    "right": "right arrow",
    "left": "left arrow",
    "up": "up arrow",
    "down": "down arrow",
    "pagedown": "page down",
    "pageup": "page up",
    "escape": "esc",
    "slash": "/",
    "question_mark": "?",
}


class KeyMap:
    """Which key does what."""

    def __init__(self, keys: Mapping[Action, tuple[str, ...]]) -> None:
        self._keys = keys
        self._actions = {key: action for action, held in keys.items() for key in held}

    def action(self, key: str, character: str | None) -> Action | None:
        """What a key does, by the name that the screen library gives it or by the character that it types."""
        return self._actions.get(key) or self._actions.get(character or "")

    def key(self, action: Action) -> str:
        """The key that is named for an action: the person's own first one."""
        return shown_key(self._keys[action][0])

    def shortest(self, action: Action) -> str:
        """The key for an action whose name takes the least room."""
        return min((shown_key(key) for key in self._keys[action]), key=cell_len)

    def others(self, action: Action) -> tuple[str, ...]:
        """The further keys for an action."""
        return tuple(shown_key(key) for key in self._keys[action][1:])

    def idle_words(self, key: str, character: str | None) -> str:
        """Why a key does nothing."""
        name = character if character is not None and character.isprintable() else shown_key(key.replace("_", " "))
        small = name.lower()
        where = f"{self.key(Action.HELP)} shows the keys."
        if len(name) == 1 and small != name and self.action(small, small):
            return f"{name} does nothing here, but {small} does: caps lock may be on. {where}"
        return f"{name} does nothing here: {where}"


def shown_key(key: str) -> str:
    """A key as a person calls it."""
    return SHOWN.get(key, key)


def keys_line(step: Step | None, keys: KeyMap, pace: Pace, columns: int) -> Content:
    """The keys that do something now, in `columns` cells: words are shortened before any key is left out."""
    check = step is not None and step.kind is StepKind.CHECK
    shown = [action for action in Action if action is not Action.MEASURED or check]
    for tried in _tries(shown, keys, pace):
        if sum(cell_len(key) + bool(word) + cell_len(word) for key, word in tried) + len(tried) - 1 <= columns:
            break
    return Content(" ").join(
        Content.assemble((key, "bold $footer-key-foreground"), f" {word}" if word else "") for key, word in tried
    )


def _tries(shown: Sequence[Action], keys: KeyMap, pace: Pace) -> Iterator[list[tuple[str, str]]]:
    """The line with less and less in it."""
    full = {Action.PACE: "pace" if pace is Pace.STEP else f"pace: {pace}"}
    left = list(shown)
    for dropped in (None, *DROPPED):
        left = [action for action in left if action is not dropped]
        for key, words in ((keys.key, full), (keys.key, SHORT), (keys.shortest, SHORT), (keys.shortest, SHORTEST)):
            if words is not SHORTEST or not {Action.PACE, Action.LOG} & {*left}:
                pairs = [(key(action), words.get(action, action.value)) for action in left]
                yield [(name, word or ("" if name == "?" else Action.HELP.value)) for name, word in pairs]
