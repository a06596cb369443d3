"""Layout and shop files gone wrong, by seed: bytes changed, or values, keys and tables swapped for odd ones."""

from __future__ import annotations

import json
import random
import re
import time
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from coach.ground.errors import CoachError
from coach.ground.places import sample_layouts_folder
from coach.joint.files import read_layout
from coach.loading import Loaded, load
from coach.plan.steps import StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan
from coach.record.batch.events import job_of, start_events
from coach.record.batch.stored import settings_from_json
from coach.shop.files import parse_shop
from coach.toml.tables import read_source

MOST_BOARDS_PLANNED, MOST_CUTS_PLANNED = 12, 400
"""Larger batches are read but not planned, so that many files can be tried."""

_DEEP: list[Any] = []
for _ in range(60):
    _DEEP = [_DEEP]

ODD: tuple[Any, ...] = (
    0, -1, 1, 2, 3, 101, 10_000, 10_001, 2**63, 10**400, 0.0, -0.0, 0.001, 1e-320, 1e308, float("inf"), float("nan"),
    True, False, "", " ", "\t", "\x00", "\x1b[31m", "\u202e", "a\nb", "x" * 61, "x" * 5000, "ſide", "[bold]", "=1+1",
    "5", "5 mm", "-5 mm", "0 mm", "0.01 mm", "1e3 mm", "nan mm", "inf mm", "5 MM", "5,5 mm", "1 3/8 in", "1/0 in",
    "0/1 in", "1 1/3 in", "1/64 in", "9" * 400 + " mm", "0." + "0" * 400 + "1 mm", "99999 mm", "1' 2-1/2\"", "12 ft",
    "1:8", "8 deg", "0:1", "1:0", "89.99 deg", "1:1000000", "8°", "none", "both", "A", "B", "left", "right", "wide",
    "narrow", "through", "half-blind", "as trained", [], [[]], [1, 1], [1, "1"], [0.5] * 100, [1] * 101, ["5 mm"],
    ["5 mm", "30 mm"], ["30 mm", "5 mm"], ["5 mm"] * 101, [{}], {}, {"a": 1}, {"lap": "3 mm"}, _DEEP,
    {"from_bottom": "5 mm", "width": "3 mm"}, {"joint": "half-blind", "lap": "4 mm"}, {"tails": 3},
)  # fmt: skip
BYTES = (b"\x00", b"\xff", b"\xef\xbb\xbf", b"\r", b"\n", b'"', b"'", b"[", b"]", b"{", b"}", b"=", b"#", b".", b",",
         b"\\", b"0", b"9", b"-", b" ", b"\x1b", b"\xe2\x80\xae", b"[[", b'"""', b"mm", b"in", b"e308")  # fmt: skip


@dataclass
class Figures:
    """What came of many files.

    Attributes:
        layouts, shops: read without a complaint.
        planned: brought together, sawn on the virtual saw and stored.
        slowest_s: the file that took longest.
        wrong: what must not be, in words.
    """

    files: int = 0
    layouts: int = 0
    shops: int = 0
    planned: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    wrong: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        wrong = "\n".join(self.wrong) or "none"
        return (
            f"{self.files} pairs of files: {self.refused} refused; sound layouts {self.layouts}, shops {self.shops}; "
            f"{self.planned} planned, sawn and stored; slowest {self.slowest_s:.2f} s\nwrong: {wrong}"
        )


class Fuzz:
    """Mutants of the sample files, written into a folder and read as coach reads them.

    Args:
        folder: where the files go.
        seed: makes the same files again.
    """

    def __init__(self, folder: Path, seed: int) -> None:
        self.figures = Figures()
        self._layout, self._shop = folder / "layout.toml", folder / "shop.toml"
        self._random = random.Random(seed)  # noqa: S311 - it has to be the same again
        samples = sorted(sample_layouts_folder().glob("*.toml"))
        self._layouts = [path.read_bytes() for path in samples if not path.name.startswith("shop-")]
        self._shops = [path.read_bytes() for path in samples if path.name.startswith("shop-")]
        assert self._layouts and self._shops

    def run(self, files: int) -> Figures:
        """So many pairs of a layout and a shop, of which one or both are mutants."""
        for _ in range(files):
            self._one()
        return self.figures

    def _one(self) -> None:
        layout, shop = self._random.choice(self._layouts), self._random.choice(self._shops)
        which = self._random.random()
        if which < 0.8:
            layout = self._mutant(layout)
        if which > 0.6:
            shop = self._mutant(shop)
        self._layout.write_bytes(layout)
        self._shop.write_bytes(shop)
        begun = time.perf_counter()
        try:
            self._read()
        except Exception as error:  # whatever comes out but a CoachError is what is looked for
            self._note(f"{type(error).__name__}: {error}", layout, shop)
        self.figures.files += 1
        self.figures.slowest_s = max(self.figures.slowest_s, time.perf_counter() - begun)

    def _read(self) -> None:
        refused = False
        try:
            layout = read_layout(self._layout).layout
        except CoachError as error:
            refused = True
            self._look_at(error)
        else:
            self.figures.layouts += 1
        try:
            parse_shop(str(self._shop), read_source(self._shop))
        except CoachError as error:
            refused = True
            self._look_at(error)
        else:
            self.figures.shops += 1
        self.figures.refused += refused
        if not refused:
            boards = sum(part.boards + part.spares for part in layout.parts)
            cuts = sum(
                (part.boards + part.spares) * 2 * end.tails for part in layout.parts for end in part.ends.values()
            )
            if boards > MOST_BOARDS_PLANNED or cuts > MOST_CUTS_PLANNED:
                return
        try:
            loaded = load([self._layout], self._shop, None)
        except CoachError as error:
            self._look_at(error)
            return
        assert not refused, "loaded, though a file by itself was refused"
        prove(loaded)
        self.figures.planned += 1

    def _look_at(self, error: CoachError) -> None:
        """What is said must be a line for each problem, each with the file that it is about."""
        assert error.problems, "an error that says nothing"
        for problem in error.problems:
            assert problem.isprintable(), f"not one plain line: {problem!r}"
            named = str(self._layout) in problem or str(self._shop) in problem
            assert named or re.fullmatch(r"and [\d,]+ more", problem), f"no file named: {problem!r}"
            assert len(problem) < 1000, f"too long to read: {problem!r}"

    def _note(self, what: str, layout: bytes, shop: bytes) -> None:
        self.figures.wrong.append(f"{what}\nlayout = {layout!r}\nshop = {shop!r}")

    def _mutant(self, source: bytes) -> bytes:
        if self._random.random() < 0.4:
            return self._other_bytes(source)
        data = tomllib.loads(source.decode())
        for part in data.get("parts", []):  # few boards, so that most can be planned
            part["boards"], part["spares"] = self._random.randint(1, 2), self._random.randint(0, 1)
        for _ in range(self._random.choice((0, 1, 1, 1, 2, 3, 6))):
            self._other_value(data)
        return toml(data).encode()

    def _other_bytes(self, source: bytes) -> bytes:
        data = bytearray(source)
        for _ in range(self._random.choice((1, 1, 2, 5, 20))):
            at = self._random.randrange(len(data)) if data else 0
            match self._random.randrange(5):
                case 0:
                    data[at : at + 1] = bytes([self._random.randrange(256)])
                case 1:
                    data[at:at] = self._random.choice(BYTES)
                case 2:
                    del data[at : at + self._random.choice((1, 1, 3, 40, 400))]
                case 3:
                    piece = data[at : at + self._random.choice((1, 10, 80))]
                    data[at:at] = piece * self._random.choice((1, 2, 30))
                case 4:
                    digits = [place for place, byte in enumerate(data) if chr(byte).isdigit()]
                    if digits:
                        data[self._random.choice(digits)] = self._random.choice(b"0123456789")
        return bytes(data)

    def _other_value(self, data: dict[str, Any]) -> None:
        """One value, key or table, anywhere, is swapped, dropped, doubled or moved."""
        places = list(_places(data))
        if not places:  # all of it was dropped already
            return
        holder, key = self._random.choice(places)
        other, other_key = self._random.choice(places)
        match self._random.randrange(8):
            case 0 | 1 | 2:
                holder[key] = _copy(self._random.choice(ODD))
            case 3:
                holder[key] = self._nudged(holder[key])
            case 4:
                del holder[key]
            case 5:
                holder[key] = _copy(other[other_key])
            case 6:
                if isinstance(holder, dict):
                    name = self._random.choice(
                        ("", "x", "Boards", "half-pin", "\x1b", "end_C", "parts", "saw", "x" * 99)
                    )
                    holder[name] = holder.pop(key)
            case 7:
                if isinstance(holder, list):
                    holder.append(_copy(holder[key]))
                else:
                    holder[str(other_key)] = _copy(other[other_key])

    def _nudged(self, value: object) -> object:
        """A number or length near the one that was there, so that most of what follows still makes sense."""
        by = self._random.choice((0.0, 0.5, 0.9, 0.99, 1.01, 1.1, 1.5, 2.0, 10.0))
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            return value
        if isinstance(value, int):
            return value * int(by * 100) // 100
        if isinstance(value, float):
            return value * by
        number, blank, unit = value.partition(" ")
        try:
            return f"{float(number) * by:.3f}{blank}{unit}"
        except ValueError:
            return value


def prove(loaded: Loaded) -> None:
    """A plan cuts every side once, and what a batch keeps of it comes back from JSON as it was."""
    sides = [step.side for step in plan(beginning(loaded.job, loaded.settings)) if step.kind is StepKind.CUT]
    assert len(sides) == len(set(sides)) == loaded.job.cuts, "not every side is cut just once"
    (_, start), (_, settings) = start_events(loaded.job, loaded.settings, loaded.unit)
    kept = json.loads(json.dumps([start, settings], allow_nan=False))
    assert job_of(kept[0]) == loaded.job, "the job comes back from the record otherwise"
    assert settings_from_json(kept[1]) == loaded.settings, "the settings come back from the record otherwise"


def _places(data: Any) -> Iterator[tuple[Any, Any]]:
    """Every value in a document, as what holds it and its key there."""
    pairs = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in list(pairs):
        yield data, key
        if isinstance(value, dict | list):
            yield from _places(value)


def _copy(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copy(item) for key, item in value.items()}
    return [_copy(item) for item in value] if isinstance(value, list) else value


def toml(data: dict[str, Any]) -> str:
    """A document as TOML text, a key a line at the top, and all below it inline."""
    return "".join(f"{_key(key)} = {_value(value)}\n" for key, value in data.items())


def _key(key: str) -> str:
    return json.dumps(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=any(char < " " or char == "\x7f" for char in value))
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{_key(key)} = {_value(item)}' for key, item in value.items())}}}"
    return str(value)
