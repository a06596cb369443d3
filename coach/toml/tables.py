"""Reads TOML files so that a person hears of every mistake at once, with file, line and key."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from coach.ground.clean import shown_path
from coach.ground.errors import MOST_PROBLEMS, CoachError, more_problems
from coach.ground.lengths import parse_length, parse_slope
from coach.ground.names import clean_text
from coach.ground.plain_files import read_bytes
from coach.toml.lines import Key, key_lines, too_deep

MOST_BYTES = 1_000_000
MOST_UNKNOWN = 20  # keys that are reported one by one
MOST_TABLES = 500
"""How many tables an array may have, and how many lengths a list."""

T = TypeVar("T")
_PLACE = re.compile(r" \(at line (\d+), column (\d+)\)$")
_UNQUOTED = re.compile(r"\s*[\w.\-]+\s*=\s*([0-9.][^\"'#]*?[a-z°\"'/:][^#]*?)\s*(?:#.*)?$", re.IGNORECASE)


def read_source(path: Path) -> str:
    """The text of `path`, at most 1 MB of UTF-8; CoachError if it can't be had."""
    try:
        raw = read_bytes(path, MOST_BYTES + 1)
    except FileNotFoundError:
        raise CoachError(f"{shown_path(path)}: no such file") from None
    except IsADirectoryError:
        raise CoachError(f"{shown_path(path)}: this is a folder; expected a TOML file") from None
    except OSError as error:
        raise CoachError(f"{shown_path(path)}: can't be read: {error.strerror}") from None
    if len(raw) > MOST_BYTES:
        raise CoachError(f"{shown_path(path)}: larger than 1 MB; expected a small TOML file")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise CoachError(f"{shown_path(path)}, line {line}: not UTF-8 text; save the file as UTF-8") from None


class Problems:
    """What is wrong with a file, each once, in order; beyond `MOST_PROBLEMS` they are only counted."""

    def __init__(self) -> None:
        self._said: dict[str, None] = {}
        self._more = 0

    def add(self, problem: Callable[[], str]) -> None:
        """Another one."""
        if len(self._said) < MOST_PROBLEMS:
            self._said.setdefault(problem())
        else:
            self._more += 1

    def __len__(self) -> int:
        return len(self._said) + self._more

    def __iter__(self) -> Iterator[str]:
        """Each of them, and at the end how many more there are."""
        yield from self._said
        if self._more:
            yield more_problems(self._more)


class _Lines:
    """On which line of a text each key stands, found out when something is said."""

    def __init__(self, text: str) -> None:
        self._text = text

    @cached_property
    def known(self) -> dict[Key, int]:
        return key_lines(self._text)


class Table:
    """One table of a TOML file. Its readers report what is wrong to the file's common list and go on with None."""

    def __init__(self, name: str, data: dict[str, Any], key: Key, lines: _Lines, problems: Problems) -> None:
        self.name = name
        self.data = data
        self.key = key
        self.problems = problems
        self._lines = lines

    @classmethod
    def parse(cls, name: str, text: str) -> Table:
        """The root table of `text`; `name` stands before each message. CoachError if it isn't TOML."""
        if line := too_deep(text):
            raise CoachError(f"{name}, line {line}: tables nested too deeply; expected the few levels of a layout")
        try:
            data = tomllib.loads(text)
            lines = _Lines(text)
        except tomllib.TOMLDecodeError as error:
            raise CoachError(_not_toml(name, text, str(error))) from None
        except RecursionError:
            raise CoachError(f"{name}: tables nested too deeply; expected the few levels of a layout") from None
        except ValueError:
            raise CoachError(f"{name}: a number with thousands of digits; expected small ones") from None
        return cls(name, data, (), lines, Problems())

    def where(self, *keys: str | int) -> str:
        """`file, line 12: parts[1].width` of a key below this table, as far as it is known."""
        full = (*self.key, *keys)
        cuts = (full[:cut] for cut in range(len(full), 0, -1))
        known = self._lines.known
        line = next((known[cut] for cut in cuts if cut in known), None)
        place = self.name if line is None else f"{self.name}, line {line}"
        dotted = ""
        for piece in full:
            said = f"[{piece + 1}]" if isinstance(piece, int) else _short(piece)
            dotted += f".{said}" if dotted and isinstance(piece, str) else said
        return f"{place}: {dotted}" if dotted else place

    def wrong(self, key: str | None, what: str, item: int | None = None) -> None:
        """Reports once that the value of `key` (or an item of it, from 0; or the whole table) is wrong."""
        keys = () if key is None else (key,) if item is None else (key, item)
        self.problems.add(lambda: f"{self.where(*keys)}: {what}")

    def done(self) -> None:
        """CoachError with everything that was reported, if anything was."""
        if self.problems:
            raise CoachError(*self.problems)

    def known(self, keys: Collection[str], elsewhere: Mapping[str, str] | None = None) -> None:
        """Reports every key that isn't one of `keys`, with where it belongs or the nearest one that is known.

        Args:
            elsewhere: keys that are known in other tables, each with where it belongs.
        """
        unknown = [key for key in self.data if key not in keys]
        if len(unknown) > MOST_UNKNOWN:
            self.wrong(None, f"{len(unknown)} unknown keys; known here: {', '.join(keys)}")
            return
        for key in unknown:
            others = elsewhere or {}
            plain = key.lower().replace("-", "_").replace(" ", "_")
            near = [key] if key in others else difflib.get_close_matches(plain, [*keys, *others], n=1, cutoff=0.5)
            hint = f"known here: {', '.join(keys)}"
            if near:
                meant = "" if near[0] == key else f'did you mean "{near[0]}"?'
                belongs = f"it belongs {others[near[0]]}" if near[0] in others and near[0] not in keys else ""
                hint = " ".join(filter(None, (meant, belongs)))
            self.wrong(key, f"unknown key; {hint}")

    def has(self, key: str) -> bool:
        """Whether the file gives `key` here."""
        return key in self.data

    def _get(self, key: str, kind: type[T] | tuple[type, ...], expected: str, *, required: bool) -> Any:
        if key not in self.data:
            if required:
                self.wrong(None, f'"{key}" is missing; expected {expected}')
            return None
        value = self.data[key]
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            self.wrong(key, f"found {shown(value)}; expected {expected}")
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
            self.wrong(key, f"found {shown(value)}; expected {expected}")
            return None
        return value  # type: ignore[no-any-return]

    def flag(self, key: str, *, default: bool = False) -> bool:
        """true or false."""
        value = self._get(key, bool, "true or false", required=False)
        return default if value is None else bool(value)

    def count(self, key: str, least: int, most: int, *, default: int | None = None) -> int | None:
        """A whole number within bounds; required unless there is a default."""
        expected = str(least) if least == most else f"a whole number from {least} to {most}"
        value = self._get(key, int, expected, required=default is None)
        if value is None:
            return None if key in self.data else default
        if not least <= value <= most:
            self.wrong(key, f"found {shown(value)}; expected {expected}")
            return None
        return int(value)

    def parsed(self, key: str, parse: Callable[[str], T], expected: str, *, required: bool = True) -> T | None:
        """A text that `parse` understands or refuses with a CoachError."""
        value = self._get(key, str, expected, required=required)
        if value is None:
            return None
        return self._parse(key, value, parse)

    def _parse(self, key: str, value: str, parse: Callable[[str], T], item: int | None = None) -> T | None:
        try:
            return parse(value)
        except CoachError as error:
            self.wrong(key, str(error), item)
            return None

    def length(
        self, key: str, *, required: bool = True, signed: bool = False, positive: bool = False
    ) -> Fraction | None:
        """A length in mm, exact."""
        value = self.data.get(key)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            such = shown(value) if 0 <= value < 10**15 else "5"
            self.wrong(key, f'found {shown(value)}: a length needs a unit, such as "{such} mm"')
            return None
        found = self.parsed(
            key, lambda text: parse_length(text, signed=signed), 'a length such as "5 mm"', required=required
        )
        if found is not None and positive and found == 0:
            self.wrong(key, f"found {shown(value)}; expected a length above zero")
            return None
        return found

    def lengths(self, key: str) -> list[Fraction] | None:
        """A list of lengths in mm, exact; None (and reported) if any is wrong."""
        value = self._get(key, list, 'a list of lengths such as ["5 mm", "30 mm"]', required=True)
        if value is None:
            return None
        if len(value) > MOST_TABLES:
            self.wrong(key, f"found {len(value):,} lengths; expected at most {MOST_TABLES}")
            return None
        found: list[Fraction | None] = []
        for number, item in enumerate(value):
            if not isinstance(item, str):
                self.wrong(key, f'found {shown(item)}; expected a length such as "5 mm"', number)
                found.append(None)
            else:
                found.append(self._parse(key, item, parse_length, number))
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
        if len(value) > MOST_TABLES:
            self.wrong(key, f"found {len(value):,} [[{key}]] tables; expected at most {MOST_TABLES}")
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


def shown(value: object) -> str:
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


def _not_toml(name: str, text: str, why: str) -> str:
    """What tomllib says, with the line first, and what most often lies behind it."""
    place = _PLACE.search(why)
    if place is None:
        return f"{name}: not valid TOML: {why}"
    line = text.split("\n")[int(place[1]) - 1]
    unquoted = _UNQUOTED.match(line)
    hint = ""
    if unquoted:
        hint = f"; lengths and slopes stand in quotes, such as {_quoted(unquoted[1])}"
    elif re.search(r"[0-9]\"\"", line):
        hint = "; a text that holds an inch sign stands in single quotes, such as '3/16\"'"
    return f"{name}, line {place[1]}: not valid TOML: {why[: place.start()]} (column {place[2]}){hint}"


def _quoted(text: str) -> str:
    return f"'{_short(text)}'" if '"' in text else f'"{_short(text)}"'
