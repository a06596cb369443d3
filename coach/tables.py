"""Reads TOML files so that a person hears of every mistake at once, with file, line and key."""

from __future__ import annotations

import difflib
import re
import tomllib
import unicodedata
from collections.abc import Callable, Collection, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from coach.errors import CoachError
from coach.lengths import parse_length, parse_slope

MOST_BYTES = 1_000_000
LONGEST_NAME = 60

T = TypeVar("T")
Key = tuple[str | int, ...]


def read_source(path: Path) -> str:
    """The text of `path`, at most 1 MB of UTF-8; CoachError if it can't be had."""
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise CoachError(f"{path}: no such file") from None
    except IsADirectoryError:
        raise CoachError(f"{path}: this is a folder; expected a TOML file") from None
    except OSError as error:
        raise CoachError(f"{path}: can't be read: {error.strerror}") from None
    if len(raw) > MOST_BYTES:
        raise CoachError(f"{path}: larger than 1 MB; expected a small TOML file")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise CoachError(f"{path}, line {line}: not UTF-8 text; save the file as UTF-8") from None


def clean_text(text: str) -> str | None:
    """Why `text` can't be a name or a label, or None if it can: 1 to 60 printable characters, no bidirectional ones."""
    if not text.strip():
        return "is empty; expected 1 to 60 characters"
    if len(text) > LONGEST_NAME:
        return f"has {len(text)} characters; at most {LONGEST_NAME} are allowed"
    for char in text:
        if not char.isprintable() or unicodedata.category(char) in {"Cc", "Cf", "Cs", "Co", "Cn"}:
            return f"holds the unprintable character U+{ord(char):04X}; expected printable ones only"
    return None


class Table:
    """One table of a TOML file. Its readers report what is wrong to the file's common list and go on with None."""

    def __init__(self, name: str, data: dict[str, Any], key: Key, lines: dict[Key, int], problems: list[str]) -> None:
        self.name = name
        self.data = data
        self.key = key
        self.problems = problems
        self._lines = lines

    @classmethod
    def parse(cls, name: str, text: str) -> Table:
        """The root table of `text`; `name` stands before each message. CoachError if it isn't TOML."""
        try:
            data = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise CoachError(f"{name}: not valid TOML: {error}") from None
        except RecursionError:
            raise CoachError(f"{name}: tables nested too deeply; expected the few levels of a layout") from None
        except ValueError as error:
            raise CoachError(f"{name}: not valid TOML: {error}") from None
        return cls(name, data, (), _key_lines(text), [])

    def where(self, key: str | None = None) -> str:
        """`file, line 12: parts[1].width`, as far as it is known."""
        full = self.key if key is None else (*self.key, key)
        line = None
        for cut in range(len(full), 0, -1):
            line = self._lines.get(full[:cut])
            if line is not None:
                break
        place = self.name if line is None else f"{self.name}, line {line}"
        dotted = ""
        for piece in full:
            dotted += f"[{piece + 1}]" if isinstance(piece, int) else f".{piece}" if dotted else piece
        return f"{place}: {dotted}" if dotted else place

    def wrong(self, key: str | None, what: str) -> None:
        """Reports that the value of `key` (or the whole table) is wrong."""
        self.problems.append(f"{self.where(key)}: {what}")

    def done(self) -> None:
        """CoachError with everything that was reported, if anything was."""
        if self.problems:
            raise CoachError(*self.problems)

    def known(self, keys: Collection[str]) -> None:
        """Reports every key that isn't one of `keys`, with the nearest one that is."""
        for key in self.data:
            if key not in keys:
                near = difflib.get_close_matches(key, keys, n=1, cutoff=0.5)
                hint = f'did you mean "{near[0]}"?' if near else f"known here: {', '.join(sorted(keys))}"
                self.wrong(_short(key), f"unknown key; {hint}")

    def has(self, key: str) -> bool:
        """Whether the file gives `key` here."""
        return key in self.data

    def _get(self, key: str, kind: type[T] | tuple[type, ...], expected: str, *, required: bool) -> Any:
        if key not in self.data:
            if required:
                self.wrong(None, f'"{key}" is missing; expected {expected}') if self.key else self.problems.append(
                    f'{self.name}: "{key}" is missing; expected {expected}'
                )
            return None
        value = self.data[key]
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            self.wrong(key, f"found {_shown(value)}; expected {expected}")
            return None
        return value

    def text(self, key: str, *, required: bool = True) -> str | None:
        """A name or label."""
        value = self._get(key, str, "a text in quotes", required=required)
        if value is None:
            return None
        why = clean_text(value)
        if why:
            self.wrong(key, why)
            return None
        return str(value).strip()

    def choice(self, key: str, choices: Sequence[str], *, required: bool = True) -> str | None:
        """One of a few words."""
        expected = " or ".join(f'"{choice}"' for choice in choices)
        value = self._get(key, str, expected, required=required)
        if value is not None and value not in choices:
            self.wrong(key, f"found {_shown(value)}; expected {expected}")
            return None
        return value  # type: ignore[no-any-return]

    def flag(self, key: str, *, default: bool = False) -> bool:
        """true or false."""
        value = self._get(key, bool, "true or false", required=False)
        return default if value is None else bool(value)

    def count(self, key: str, least: int, most: int, *, default: int | None = None) -> int | None:
        """A whole number within bounds; required unless there is a default."""
        expected = f"a whole number from {least} to {most}"
        value = self._get(key, int, expected, required=default is None)
        if value is None:
            return None if key in self.data else default
        if not least <= value <= most:
            self.wrong(key, f"found {_shown(value)}; expected {expected}")
            return None
        return int(value)

    def parsed(self, key: str, parse: Callable[[str], T], expected: str, *, required: bool = True) -> T | None:
        """A text that `parse` understands or refuses with a CoachError."""
        value = self._get(key, str, expected, required=required)
        if value is None:
            return None
        return self._parse(key, value, parse)

    def _parse(self, key: str, value: str, parse: Callable[[str], T]) -> T | None:
        try:
            return parse(value)
        except CoachError as error:
            self.wrong(key, str(error))
            return None

    def length(
        self, key: str, *, required: bool = True, signed: bool = False, positive: bool = False
    ) -> Fraction | None:
        """A length in mm, exact."""
        value = self.data.get(key)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            self.wrong(key, f'found {_shown(value)}: a length needs a unit, such as "{_short(str(value))} mm"')
            return None
        found = self.parsed(
            key, lambda text: parse_length(text, signed=signed), 'a length such as "5 mm"', required=required
        )
        if found is not None and positive and found == 0:
            self.wrong(key, f"found {_shown(value)}; expected a length above zero")
            return None
        return found

    def lengths(self, key: str) -> list[Fraction] | None:
        """A list of lengths in mm, exact; None (and reported) if any is wrong."""
        value = self._get(key, list, 'a list of lengths such as ["5 mm", "30 mm"]', required=True)
        if value is None:
            return None
        found: list[Fraction | None] = []
        for number, item in enumerate(value, 1):
            if not isinstance(item, str):
                self.wrong(key, f'number {number}: found {_shown(item)}; expected a length such as "5 mm"')
                found.append(None)
            else:
                found.append(self._parse(f"{key}[{number}]", item, parse_length))
        return [item for item in found if item is not None] if None not in found else None

    def slope(self, key: str, *, required: bool = True) -> float | None:
        """A slope, in radians."""
        return self.parsed(key, parse_slope, 'a slope such as "1:8" or "8 deg"', required=required)

    def table(self, key: str) -> Table | None:
        """A table below this one, or None if it isn't there."""
        value = self._get(key, dict, "a table", required=False)
        return None if value is None else Table(self.name, value, (*self.key, key), self._lines, self.problems)

    def tables(self, key: str) -> list[Table]:
        """The tables of an array such as [[parts]]; it is an error if there is none."""
        value = self._get(key, list, f"at least one [[{key}]] table", required=True)
        if value is None:
            return []
        if not value or not all(isinstance(item, dict) for item in value):
            self.wrong(key, f"expected one or more [[{key}]] tables")
            return []
        return [
            Table(self.name, item, (*self.key, key, number), self._lines, self.problems)
            for number, item in enumerate(value)
        ]


def _short(text: str) -> str:
    clean = "".join(char if char.isprintable() else "?" for char in text)
    return clean if len(clean) <= 40 else clean[:39] + "…"


def _shown(value: object) -> str:
    """A found value as a person would write it in TOML, not longer than a few words."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{_short(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, int) and abs(value) >= 10**15:
        return "a very large number"
    return _short(str(value))


_HEADER = re.compile(r"^\s*(\[\[?)\s*([\w\-\"'. ]+?)\s*\]\]?\s*(?:#.*)?$")
_ENTRY = re.compile(r"^\s*([\w\-]+|\"[^\"]*\"|'[^']*')\s*=")


def _key_lines(text: str) -> dict[Key, int]:
    """On which line each key of plain TOML stands (inline tables count as their key's line)."""
    lines: dict[Key, int] = {}
    counts: dict[str, int] = {}
    prefix: Key = ()
    for number, line in enumerate(text.splitlines(), 1):
        header = _HEADER.match(line)
        if header:
            names = [piece.strip().strip("\"'") for piece in header[2].split(".")]
            if header[1] == "[[":
                counts[names[0]] = counts.get(names[0], -1) + 1
            prefix = (names[0], counts[names[0]]) if names[0] in counts else (names[0],)
            prefix = (*prefix, *names[1:])
            lines.setdefault(prefix, number)
            continue
        entry = _ENTRY.match(line)
        if entry:
            lines.setdefault((*prefix, entry[1].strip("\"'")), number)
    return lines
