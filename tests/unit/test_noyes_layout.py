"""A plan's marks and fence settings against a textbook's construction and known angles."""

from __future__ import annotations

import contextlib
import io
import itertools
import json
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

from coach.cli import main

SHOP = """\
format = 1
[saw]
kerf = "0.9 mm"
column_side = "left"
throat = "600 mm"
backing_out = "stopped"
[[fences]]
side = "right"
min = "0 mm"
max = "600 mm"
front = "50 mm"
scale = "none"
zero = "0 mm"
[[jigs]]
name = "the jig"
slope = "{slope}"
leading_width = "80 mm"
leading_end = "wide"
length = "250 mm"
thickness = "8 mm"
"""
LAYOUT = """\
format = 1
name = "Textbook"
[[parts]]
label = "side"
boards = 1
width = "{width} mm"
thickness = "12 mm"
length = "300 mm"
ends = "A"
joint = "through"
mates_with = "{length} mm"
tails = {tails}
half_pin = "{half_pin} mm"
pin = "{pin} mm"
"""


def planned(folder: Path, slope: str, **numbers: float) -> Mapping[str, Any]:
    (folder / "shop.toml").write_text(SHOP.format(slope=slope), encoding="utf-8")
    (folder / "layout.toml").write_text(LAYOUT.format(**numbers), encoding="utf-8")
    printed = io.StringIO()
    files = [str(folder / "layout.toml"), "--shop", str(folder / "shop.toml"), "--data", str(folder / "data")]
    with contextlib.redirect_stdout(printed):
        assert main(["plan", *files, "--json"]) == 0
    plan = json.loads(printed.getvalue())
    assert isinstance(plan, dict)
    return plan


def marks_mm(plan: Mapping[str, Any], faces: str) -> list[float]:
    """The marks of the sides that face one edge, ascending."""
    return sorted(step["mark_mm"] for step in plan["steps"] if step["kind"] == "cut" and step["faces"] == faces)


@pytest.mark.parametrize(
    ("width", "tails", "pin", "length", "along"),
    [(120.0, 3, 8.0, 12.0, 8), (57.0, 2, 4.0, 10.0, 8), (150.0, 5, 5.0, 15.0, 6), (70.0, 1, 6.0, 12.0, 7)],
)
def test_an_even_layout_with_half_sockets_of_half_a_pin_is_the_textbooks(
    tmp_path: Path, width: float, tails: int, pin: float, length: float, along: int
) -> None:
    # Noyes, Handwork in Wood (1910), Ch. VII no. 48: divide the baseline into as many equal parts as there
    # are tails; lay half the socket's greatest width to each side of each division, and in from each edge.
    plan = planned(tmp_path, f"1:{along}", width=width, tails=tails, half_pin=pin / 2, pin=pin, length=length)
    half_greatest = pin / 2 + length / along
    divisions = [width / tails * n for n in range(tails)]
    textbook = [division + half_greatest for division in divisions]
    for faces in ("top", "bottom"):
        at_baseline = [mark + length / along for mark in marks_mm(plan, faces)]
        assert at_baseline == pytest.approx(textbook, abs=1e-9)


@pytest.mark.parametrize(
    ("slope", "degrees"),
    [
        # Arctangents, computed by two independent methods.
        ("1:8", 7.125016),
        ("1:6", 9.462322),
        ("1:5", 11.309932),
        ("1:7", 8.130102),
        # The same the other way: 7° is 1:8.14435, 8° is 1:7.11537.
        ("7 deg", math.degrees(math.atan(1 / 8.14435))),
        ("1:7.11537", 8.0),
    ],
)
def test_the_fence_moves_by_the_marks_difference_foreshortened_by_the_slope(
    tmp_path: Path, slope: str, degrees: float
) -> None:
    plan = planned(tmp_path, slope, width=120, tails=3, half_pin=5, pin=6, length=12)
    assert angle_degrees(plan) == pytest.approx([degrees, degrees], abs=2e-5)


def angle_degrees(plan: Mapping[str, Any]) -> Sequence[float]:
    """The angle whose cosine is the fence's move over the marks' difference, from setting to setting."""
    marks = {step["setting"]: step["mark_mm"] for step in plan["steps"] if step["kind"] == "cut"}
    fences = {setting["setting"]: setting["fence_mm"] for setting in plan["settings"]}
    return [
        math.degrees(math.acos((fences[b] - fences[a]) / (marks[b] - marks[a])))
        for a, b in itertools.pairwise(sorted(fences))
    ]


def test_the_first_fence_setting_is_the_jig_and_the_mark_less_the_kerf(tmp_path: Path) -> None:
    # Worked by hand for 1:8, cos = 8/√65 = 0.9922779: 80 + 5 × 0.9922779 − 0.9 = 84.0613894.
    plan = planned(tmp_path, "1:8", width=57, tails=2, half_pin=5, pin=4, length=12)
    assert min(setting["fence_mm"] for setting in plan["settings"]) == pytest.approx(84.0613894, abs=1e-6)
