"""Layout and shop files as plain numbers in mm, read and laid out apart from the program under test."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from support.rigid_board import Board, EndDesign, Jig

SAME_MM = 0.001

IN_MM = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "in": Fraction("25.4"),
    '"': Fraction("25.4"),
    "ft": Fraction("304.8"),
    "'": Fraction("304.8"),
}
AMOUNT = re.compile(r"""(?:(?:(\d+)[ -])?(\d+)/(\d+)|(\d+(?:\.\d+)?))\s*(mm|cm|in|ft|"|')[\s-]*""")
SPACING_KEYS = frozenset({"tails", "proportions", "half_pin", "pin", "top_marks", "bottom_marks"})


@dataclass(frozen=True)
class PlainPart:
    """A part with its tails at each end that has any, as on a left-hand board."""

    label: str
    boards: int
    spares: int
    handed: bool
    width_mm: float
    length_mm: float
    thickness_mm: float
    ends: Mapping[str, EndDesign]

    def all_boards(self, shift_mm: float) -> list[Board]:
        """The boards in order, spares last; of a handed part every second one has ends A and B swapped."""
        swapped = {{"A": "B", "B": "A"}[end]: design for end, design in self.ends.items()}
        return [
            Board(
                f"{self.label} {number}",
                self.width_mm,
                self.length_mm,
                self.thickness_mm,
                swapped if self.handed and number % 2 == 0 else self.ends,
                shift_mm,
            )
            for number in range(1, self.boards + self.spares + 1)
        ]


@dataclass(frozen=True)
class PlainShop:
    """What of the shop bears on the wood; a graduation of 0 stands for a fence without a scale."""

    kerf_mm: float
    jig_name: str
    jig: Jig
    fence_side: str
    graduation_mm: float

    def shift_mm(self, tolerance_mm: float | None) -> float:
        """How far a mark may shift along the end; without a scale, marks within a micrometre count as equal."""
        if tolerance_mm is not None:
            return tolerance_mm
        return max(SAME_MM, self.graduation_mm / 2 / math.cos(self.jig.slope))


def spaced(width_mm: float, parts: Sequence[float], half_pin_mm: float, pin_mm: float, root_mm: float) -> EndDesign:
    """Tails that share in proportion to `parts` what the sockets leave of the width."""
    wood = width_mm - 2 * half_pin_mm - (len(parts) - 1) * pin_mm
    widths = [wood * part / sum(parts) for part in parts]
    return EndDesign(root_mm, _marks(widths, half_pin_mm, pin_mm), _marks(widths[::-1], half_pin_mm, pin_mm))


def _marks(widths: Sequence[float], half_pin_mm: float, pin_mm: float) -> tuple[float, ...]:
    return tuple(half_pin_mm + n * pin_mm + sum(widths[:n]) for n in range(len(widths)))


def length_mm(text: str) -> float:
    """A length as people write it, such as `4-7/32"` or `1 ft 2 1/2 in`, in mm."""
    rest = text.strip()
    sign = -1 if rest.startswith("-") else 1
    rest = rest.removeprefix("-").strip()
    total = Fraction(0)
    while rest:
        found = AMOUNT.match(rest)
        assert found, f"not a length: {text}"
        whole, over, under, plain, unit = found.groups()
        amount = Fraction(plain) if plain else Fraction(whole or 0) + Fraction(int(over), int(under))
        total += amount * IN_MM[unit]
        rest = rest[found.end() :]
    return float(sign * total)


def slope_radians(text: str) -> float:
    """A slope such as `1:8`, `8 deg` or `8°`, in radians."""
    if ":" in text:
        across, along = text.split(":")
        return math.atan2(float(across), float(along))
    return math.radians(float(re.sub(r"\s*(deg|°)", "", text)))


def read_parts(layout: Mapping[str, Any]) -> list[PlainPart]:
    """The parts of a layout file that was read as TOML."""
    return [_part(raw) for raw in layout["parts"]]


def read_tolerance_mm(layout: Mapping[str, Any]) -> float | None:
    """The layout's own tolerance, None where it has none."""
    return length_mm(layout["tolerance"]) if "tolerance" in layout else None


def read_shop(shop: Mapping[str, Any]) -> PlainShop:
    """The shop of a file that was read as TOML; its first fence and jig are the ones in use."""
    fence, jig = shop["fences"][0], shop["jigs"][0]
    return PlainShop(
        length_mm(shop["saw"]["kerf"]),
        jig["name"],
        Jig(
            slope_radians(jig["slope"]),
            length_mm(jig["leading_width"]),
            jig.get("leading_end", "wide"),
            length_mm(jig["length"]) if "length" in jig else 300.0,
        ),
        fence["side"],
        0.0 if fence.get("scale", "none") == "none" else length_mm(fence["scale"]),
    )


def _part(raw: Mapping[str, Any]) -> PlainPart:
    width = length_mm(raw["width"])
    ends = {}
    for end in ("A", "B"):
        if raw.get("ends", "both") in (end, "both"):
            own = raw.get(f"end_{end}", {})
            inherited = {key: raw[key] for key in raw if not (key in SPACING_KEYS and SPACING_KEYS & own.keys())}
            ends[end] = _end({**inherited, **own}, width)
    return PlainPart(
        raw["label"],
        raw["boards"],
        raw.get("spares", 0),
        raw.get("handed", False),
        width,
        length_mm(raw["length"]),
        length_mm(raw["thickness"]),
        ends,
    )


def _end(keys: Mapping[str, Any], width: float) -> EndDesign:
    root = length_mm(keys["mates_with"]) + length_mm(keys.get("baseline", "0 mm"))
    if keys.get("joint", "through") == "half-blind":
        root -= length_mm(keys["lap"])
    if "top_marks" in keys:
        return EndDesign(
            root,
            tuple(length_mm(mark) for mark in keys["top_marks"]),
            tuple(length_mm(mark) for mark in keys["bottom_marks"]),
        )
    parts = keys["proportions"] if "proportions" in keys else [1] * keys["tails"]
    return spaced(width, parts, length_mm(keys["half_pin"]), length_mm(keys["pin"]), root)
