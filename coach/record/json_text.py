"""JSON from a file that nobody vouches for: refused wherever the record could not keep it as it stands."""

from __future__ import annotations

import json
import math
import re
from typing import Any, NoReturn

DEEPEST = 40
"""Lists and tables within each other; the deepest that coach writes have about ten."""


_NESTED = (dict, list)
_HALF = re.compile(r"\\u[dD][89a-fA-F]|[\ud800-\udfff]")


def strict_json(text: str) -> Any:
    """The value that `text` says.

    Raises:
        ValueError: it is not JSON, nested too deeply, has a key twice, numbers that are none or too large, or
            characters that are not text; says where or which.
    """
    try:
        found = _strictly_decoded(text)
    except RecursionError:
        raise ValueError("lists or tables nested too deeply") from None
    if type(found) in _NESTED:
        _refuse_deep(found)
    if _HALF.search(text):
        _refuse_all_broken(found)
    return found


def quick_json(text: str) -> dict[str, Any]:
    """The table that `text`, a line that the record has kept, says; without all the doubts of `strict_json`.

    Raises:
        ValueError: it is not JSON, or no table.
    """
    try:
        found = _decoded(text)
    except RecursionError:
        raise ValueError("lists or tables nested too deeply") from None
    if type(found) is not dict:
        raise ValueError("it holds no table of keys and values")
    return found


def _table(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(f"the key {shown(twice)} stands twice in one table")
    return found


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"found {text}, which is no number")


def _decimal(text: str) -> float:
    found = float(text)
    if not math.isfinite(found):
        raise ValueError(f"the number {shown(text)} is too large")
    return found


def _whole(text: str) -> int:
    if len(text) > 18:
        raise ValueError(f"the number {shown(text)} is too large")
    return int(text)


_strictly_decoded = json.JSONDecoder(
    object_pairs_hook=_table, parse_constant=_no_number, parse_float=_decimal, parse_int=_whole
).decode
_decoded = json.JSONDecoder(parse_constant=_no_number, parse_float=_decimal).decode


def _refuse_deep(found: Any) -> None:
    level = [found]
    for _ in range(DEEPEST):
        inner: list[Any] = []
        for value in level:
            values = value.values() if type(value) is dict else value
            inner += [one for one in values if type(one) in _NESTED]
        if not inner:
            return
        level = inner
    raise ValueError(f"lists or tables nested more than {DEEPEST} deep")


def _refuse_all_broken(found: Any) -> None:
    """ValueError if a text anywhere in `found` holds half a character."""
    waiting = [found]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting += [*value, *value.values()]
        elif isinstance(value, list):
            waiting += value
        elif isinstance(value, str):
            _refuse_broken(value)


def _refuse_broken(text: str) -> None:
    try:
        text.encode()
    except UnicodeEncodeError:
        raise ValueError(f"{shown(text)} holds characters that are not text") from None


def shown(value: object) -> str:
    """A value from JSON as a message shows it: short, and nothing that a terminal could take for a command."""
    if isinstance(value, dict):
        return f"a table of {len(value)} keys"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if value is None or isinstance(value, bool):
        return json.dumps(value)
    text = repr(value) if str(value).isprintable() else ascii(value)
    return text if len(text) <= 60 else f"{text[:57]}…"
