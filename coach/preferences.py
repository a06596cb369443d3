"""What a person has set up for the walk (`walk.toml`: keys, bell, key guard), and what the app remembers by itself."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from coach.ground import places
from coach.ground.clean import shown_path
from coach.ground.plain_files import read_bytes

if TYPE_CHECKING:
    from coach.toml.tables import Table


class Action(StrEnum):
    """What a key does in the walk; the same words stand in `walk.toml` and at the foot of the screen."""

    DONE = "done"
    UNDO = "undo"
    MEASURED = "measured"
    PACE = "pace"
    CHANGE = "change"
    LOG = "log"
    HELP = "help"
    LEAVE = "leave"


FIXED: Mapping[Action, tuple[str, ...]] = {
    Action.DONE: ("space", "enter", "right", "pagedown"),
    Action.UNDO: ("u", "backspace"),
    Action.LEAVE: ("q",),
}
"""Keys that keep their meaning whatever else is bound: whoever stands at the saw can rely on them."""
USUAL: Mapping[Action, tuple[str, ...]] = {
    Action.MEASURED: ("m",),
    Action.PACE: ("p",),
    Action.CHANGE: ("c",),
    Action.LOG: ("l",),
    Action.HELP: ("?", "f1"),
}
"""Keys that give way to others."""
NAMED = (
    *("space", "enter", "tab", "backspace", "escape", "up", "down", "left", "right", "home", "end"),
    *("pageup", "pagedown", "insert", "delete"),
    *(f"f{number}" for number in range(1, 21)),
)
"""Keys that every terminal sends, beside single characters and ctrl with a letter."""
TAKEN = {
    "ctrl+c": "which always ends coach",
    "ctrl+q": "which always ends coach",
    "ctrl+t": "which always changes between dark and light",
    "ctrl+h": "which terminals send as backspace",
    "ctrl+i": "which terminals send as tab",
    "ctrl+j": "which terminals send as enter",
    "ctrl+m": "which terminals send as enter",
}
MOST_GUARD_S = 5.0
MOST_REMEMBERED_BYTES = 10_000


class Preferences(NamedTuple):  # which is made quicker than a dataclass, at every start
    """What `walk.toml` says.

    Attributes:
        keys: every key of each action, the person's own first; single characters stand for themselves.
        key_guard_s: how long a step must have been on the screen, in seconds; None if the file doesn't say.
        bell: whether the terminal's bell rings at a key that wasn't counted and where the fence has to move.
    """

    keys: Mapping[Action, tuple[str, ...]] = {**FIXED, **USUAL}
    key_guard_s: float | None = None
    bell: bool = False


def read_preferences(path: Path | None = None) -> Preferences:
    """What the person's `walk.toml` (or the file at `path`) says; the usual where there is none.

    Raises:
        CoachError: with every mistake in it.
    """
    file = path or places.walk_file()
    if not file.exists():
        return Preferences()
    from coach.toml.tables import read_source  # most people have no such file, and resuming is quicker without

    return parse_preferences(shown_path(file), read_source(file))


def parse_preferences(name: str, text: str) -> Preferences:
    """What `text` sets up; `name` stands before each message. CoachError with every mistake in it."""
    from coach.toml.tables import Table

    root = Table.parse(name, text)
    root.known(("format", "keys", "bell", "key_guard"), dict.fromkeys(Action, "in [keys]"))
    root.count("format", 1, 1)
    table = root.table("keys")
    keys = {**FIXED, **USUAL} if table is None else _keys(table)
    guard, bell = _guard(root), root.flag("bell")
    root.done()
    return Preferences(keys, guard, bell)


def _guard(root: Table) -> float | None:
    from coach.toml.tables import shown

    value = root.data.get("key_guard")
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= MOST_GUARD_S:
        root.wrong("key_guard", f"found {shown(value)}; expected seconds from 0 to {MOST_GUARD_S:g}, such as 0.5")
        return None
    return float(value)


def _keys(table: Table) -> dict[Action, tuple[str, ...]]:
    """All keys of each action: what is fixed, what the person gives, and the usual where nobody else has it."""
    table.known(tuple(Action), {"bell": "above [keys]", "key_guard": "above [keys]"})
    given: dict[Action, tuple[str, ...]] = {}
    holders = {key: action for action, keys in FIXED.items() for key in keys}
    for action in Action:
        if table.has(action):
            given[action] = _given(table, action, holders)
    keys: dict[Action, tuple[str, ...]] = {}
    for action in Action:
        if action in FIXED:
            keys[action] = tuple(dict.fromkeys((*given.get(action, ()), *FIXED[action])))
        elif action in given:
            keys[action] = given[action]
        else:
            keys[action] = tuple(key for key in USUAL[action] if key not in holders)
            if not keys[action]:
                taken = USUAL[action][0]
                table.wrong(holders[taken], f'"{taken}" is the usual key of "{action}", which has no other then; '
                            f'expected a key for "{action}" as well')  # fmt: skip
    return keys


def _given(table: Table, action: Action, holders: dict[str, Action]) -> tuple[str, ...]:
    """The keys that the file gives to `action`; they are added to `holders`."""
    from coach.toml.tables import shown

    value = table.data[action]
    if not isinstance(value, list) or not value:
        found = "an empty list" if value == [] else shown(value)
        table.wrong(action, f'found {found}; expected a list of keys such as ["b", "f5"]')
        return ()
    keys = []
    for number, key in enumerate(value):
        why = _unfit(key)
        if why is None and holders.setdefault(key, action) is not action:
            held = holders[key]
            always = "always means" if key in FIXED.get(held, ()) else "is already given to"
            why = f'which {always} "{held}"; expected a key of its own'
        if why is not None:
            table.wrong(action, f"found {shown(key)}{',' if why.startswith('which') else ';'} {why}", number)
        else:
            keys.append(key)
    return tuple(keys)


def _unfit(key: object) -> str | None:
    """Why `key` can't be bound, or None if it can."""
    if isinstance(key, str):
        if key in TAKEN:
            return f"{TAKEN[key]}; expected another key"
        letter = key.removeprefix("ctrl+")
        if key in NAMED or (len(key) == 1 and key.isprintable() and key != " "):
            return None
        if letter != key and len(letter) == 1 and "a" <= letter <= "z":
            return None
        if key == " ":
            return 'expected "space"'
        return _nearest(key) or f"expected a single character, ctrl+ and a letter, or one of {_named()}"
    return 'expected a key in quotes, such as "b" or "f5"'


def _nearest(key: str) -> str:
    import difflib

    near = difflib.get_close_matches(key.lower().replace("_", "").replace(" ", ""), NAMED, n=1)
    return f'did you mean "{near[0]}"?' if near else ""


def _named() -> str:
    return f"{', '.join(name for name in NAMED if name[1:].isalpha())}, f1 to f20"


class Remembered(NamedTuple):
    """What the app remembers from one run to the next, in words that mean nothing here; empty where nothing is."""

    theme: str = ""
    pace: str = ""


def recall() -> Remembered:
    """What was remembered last; nothing where that can't be read."""
    try:
        found = json.loads(read_bytes(places.remembered_file(), MOST_REMEMBERED_BYTES))
    except (OSError, ValueError, RecursionError):
        return Remembered()
    if not isinstance(found, dict):
        return Remembered()
    theme, pace = found.get("theme"), found.get("pace")
    return Remembered(theme if isinstance(theme, str) else "", pace if isinstance(pace, str) else "")


def remember(*, theme: str | None = None, pace: str | None = None) -> None:
    """Remembers what is given, beside what was remembered before; that it can't be written is no reason to stop."""
    before = recall()
    data = {
        "format": 1,
        "theme": before.theme if theme is None else theme,
        "pace": before.pace if pace is None else pace,
    }
    file = places.remembered_file()
    fresh = file.with_name(f"{file.name}.{os.getpid()}")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        fresh.write_text(json.dumps(data), encoding="utf-8")
        fresh.replace(file)
    except OSError:
        _clear(fresh)


def _clear(file: Path) -> None:
    try:
        file.unlink(missing_ok=True)
    except OSError:
        return
