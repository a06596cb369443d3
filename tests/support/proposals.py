"""Runs the commands that propose layouts, and judges what they write with the independent saw."""

from __future__ import annotations

import contextlib
import io
import json
import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from support.plain_layout import (
    PlainShop,
    length_mm,
    read_parts,
    read_shop,
    read_tolerance_mm,
)
from support.rigid_saw import replay

from coach.cli import main

SAME_MM = 0.001  # marks within a micrometre count as equal


@dataclass(frozen=True)
class Ran:
    """Exit code, output and complaints of a command."""

    code: int
    out: str
    err: str


def coach(*words: str | Path) -> Ran:
    """Runs a command line in this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([str(word) for word in words])
    return Ran(code, out.getvalue(), err.getvalue())


def read(file: Path) -> dict[str, Any]:
    """A TOML file as plain tables."""
    return tomllib.loads(file.read_text(encoding="utf-8"))


def sawn(layouts: Sequence[Path], shop: Path) -> list[dict[str, Any]]:
    """The settings of `coach plan --json`, once its steps have been replayed with Shapely and every tail is whole."""
    ran = coach("plan", *layouts, "--json", "--shop", shop)
    assert ran.code == 0, ran.err
    plan = json.loads(ran.out)
    plain = read_shop(read(shop))
    boards = [
        board
        for layout in map(read, layouts)
        for part in read_parts(layout)
        for board in part.all_boards(plain.shift_mm(read_tolerance_mm(layout)))
    ]
    shifts = replay(boards, plain.kerf_mm, {plain.jig_name: plain.jig}, plan["settings"], plan["steps"])
    assert len(shifts) == plan["batch"]["cuts"]
    assert max(map(abs, shifts.values())) < SAME_MM
    settings = plan["settings"]
    assert isinstance(settings, list)
    return settings


def off_graduations_mm(settings: Sequence[dict[str, Any]], shop: Path, step_mm: float | None = None) -> float:
    """How far the settings are from graduations of the scale at most: F + zero is a multiple of the step."""
    fence = read(shop)["fences"][0]
    step = length_mm(fence["scale"]) if step_mm is None else step_mm
    zero = 0.0 if fence["scale"] == "none" else length_mm(fence.get("zero", "0 mm"))
    over = [(setting["fence_mm"] + zero) / step for setting in settings]
    return float(max(abs(steps - round(steps)) * step for steps in over))


def from_jig_mm(shop: PlainShop, width_mm: float, mark_mm: float) -> float:
    """A mark from the edge that bears on the jig: a jig whose narrow end leads cuts what faces away from it."""
    return mark_mm if shop.jig.leading_end == "wide" else width_mm - mark_mm


def graduation_of(shop: PlainShop, zero_mm: float, step_mm: float, width_mm: float, mark_mm: float) -> float:
    """On which graduation a mark falls: F = W + m cos θ - k, or W + m cos θ where the narrow end leads."""
    wide = shop.jig.leading_end == "wide"
    far = shop.kerf_mm if wide else 0.0
    fence = shop.jig.leading_width_mm + from_jig_mm(shop, width_mm, mark_mm) * math.cos(shop.jig.slope) - far
    return (fence + zero_mm) / step_mm


def mark_of(shop: PlainShop, zero_mm: float, step_mm: float, width_mm: float, number: int) -> float:
    """The mark that a graduation cuts, from the edge that its side faces."""
    wide = shop.jig.leading_end == "wide"
    far = shop.kerf_mm if wide else 0.0
    fence = number * step_mm - zero_mm
    from_jig = (fence - shop.jig.leading_width_mm + far) / math.cos(shop.jig.slope)
    return from_jig if wide else width_mm - from_jig
