"""On which line each key of a TOML text stands: tomllib doesn't say, and a person wants to know."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

Key = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_NAME = re.compile(r"[A-Za-z0-9_-]+|\"(?:\\.|[^\"\\])*\"|'[^']*'")
_TEXT = re.compile(
    r"\"\"\"(?:\\.|[^\\])*?\"\"\"\"{0,2}|'''.*?''''{0,2}|\"(?:\\.|[^\"\\\n])*\"|'[^'\n]*'",
    re.DOTALL,
)
_FLAT = re.compile(r"\[[0-9a-z_.:+,\- \t]*\]", re.IGNORECASE)  # a list of numbers or words on its own line
_PLAIN = re.compile(r"[^,\]}\n#]+")


def key_lines(text: str) -> dict[Key, int]:
    """The line, from 1, of each table, key and item of an array in `text`, which must be valid TOML.

    Tables of an array are counted from 0, as Python does. An item that stands on the line of its array isn't listed.
    """
    return _Scan(text).lines


_DEEPEST, _LONGEST_KEY = 100, 20
"""Levels of tables and lists, and parts of a dotted key; a layout has four of the one and three of the other. A file in
which many lists aren't closed is rather told where the first isn't."""
_STRUCTURE = re.compile(
    r"\"\"\"(?:\\.|[^\\])*?\"\"\"|'''.*?'''|\"(?:\\.|[^\"\\\n])*\"|'[^'\n]*'|\#[^\n]*|[\[\]{}.]|[,=\n][^\[\]{}.\"'\#]*",
    re.DOTALL,
)


def too_deep(text: str) -> int | None:
    """The line, from 1, at which tables, lists or the parts of a key go too deep in `text`, be it valid or not; None if
    they don't. It takes a time in proportion to the text, which what reads TOML doesn't."""
    depth = parts = 0
    for found in _STRUCTURE.finditer(text):
        sign = found[0]
        if sign in "[{":
            depth, parts = depth + 1, 0
        elif sign in "]}":
            depth, parts = max(0, depth - 1), 0
        elif sign == ".":
            parts += 1
        elif sign[0] in ",=\n":
            parts = 0
        if depth > _DEEPEST or parts > _LONGEST_KEY:
            return text.count("\n", 0, found.start()) + 1
    return None


def _unquoted(name: str) -> str:
    """A name as a key has it, with its quotes taken off."""
    if name[0] not in "\"'":
        return name
    return str(tomllib.loads(f"name = {name}")["name"]) if "\\" in name else name[1:-1]


class _Scan:
    """Walks through the text once; what tomllib has found valid is not checked again."""

    def __init__(self, text: str) -> None:
        self.lines: dict[Key, int] = {}
        self._text = text
        self._at = 0
        self._breaks = [found.start() for found in re.finditer("\n", text)]
        self._tables: dict[Key, int] = {}
        prefix: Key = ()
        self._skip()
        while self._at < len(text):
            if text.startswith("[", self._at):
                prefix = self._header()
            else:
                self._entry(prefix)
            self._skip()

    def _line(self) -> int:
        return bisect_right(self._breaks, self._at - 1) + 1

    def _skip(self) -> None:
        found = _BLANK.match(self._text, self._at)
        assert found is not None
        self._at = found.end()

    def _takes(self, sign: str) -> bool:
        self._skip()
        found = self._text.startswith(sign, self._at)
        self._at += len(sign) if found else 0
        return found

    def _names(self) -> list[str]:
        """A key, dotted or not, with its quotes taken off."""
        names: list[str] = []
        while not names or self._takes("."):
            self._skip()
            found = _NAME.match(self._text, self._at)
            assert found is not None
            self._at = found.end()
            names.append(_unquoted(found[0]))
        return names

    def _header(self) -> Key:
        """`[table]` or `[[table of an array]]`: the prefix of the keys below it."""
        line = self._line()
        double = self._text.startswith("[[", self._at)
        self._takes("[[" if double else "[")
        names = self._names()
        self._takes("]]" if double else "]")
        prefix: Key = ()
        for left, name in zip(range(len(names) - 1, -1, -1), names, strict=True):
            prefix = (*prefix, name)
            self.lines.setdefault(prefix, line)
            if double and not left:
                self._tables[prefix] = self._tables.get(prefix, -1) + 1
            if prefix in self._tables:
                prefix = (*prefix, self._tables[prefix])
                self.lines.setdefault(prefix, line)
        return prefix

    def _entry(self, prefix: Key) -> None:
        line = self._line()
        for name in self._names():
            prefix = (*prefix, name)
            self.lines.setdefault(prefix, line)
        self._takes("=")
        self._value(prefix)

    def _value(self, key: Key) -> None:
        self._skip()
        if flat := _FLAT.match(self._text, self._at):
            self._at = flat.end()
        elif self._takes("["):
            line, number = self._line(), 0
            while not self._takes("]"):
                if self._line() != line:
                    self.lines.setdefault((*key, number), self._line())
                self._value((*key, number))
                self._takes(",")
                number += 1
        elif self._takes("{"):
            while not self._takes("}"):
                self._entry(key)
                self._takes(",")
        else:
            found = _TEXT.match(self._text, self._at) or _PLAIN.match(self._text, self._at)
            assert found is not None
            self._at = found.end()
