"""Every plan, carried out with rigid boards and a polygon library, leaves exactly the tails designed."""

from __future__ import annotations

import contextlib
import io
import itertools
import json
import tempfile
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, event, given, settings
from support.layout_texts import LayoutText, ShopText, batches
from support.plain_layout import SAME_MM, PlainPart, PlainShop, read_parts, read_shop, read_tolerance_mm
from support.rigid_board import EXACT_MM, Board, Jig, SideKey
from support.rigid_saw import replay

from coach.cli import main

SAMPLES = Path(__file__).resolve().parents[2] / "layouts"
SHOPS = sorted(SAMPLES.glob("*shop*.toml"))
ONE_FENCE = [path for path in SHOPS if "two" not in path.stem]
LAYOUTS = sorted(set(SAMPLES.glob("*.toml")) - set(SHOPS))
BEYOND = [path for path in LAYOUTS if "panel" in path.stem]

Plan = dict[str, Any]


def ran(words: Sequence[str], folder: Path) -> tuple[int, str, str]:
    """Exit code, output and complaints of a `coach` command that keeps its data in `folder`."""
    printed, complained = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(complained):
        code = main([*words, "--data", str(folder / "data")])
    return code, printed.getvalue(), complained.getvalue()


def planned(shop: Path, layouts: Sequence[Path], folder: Path) -> Plan:
    """What `coach plan --json` prints, read back."""
    code, printed, complained = ran(["plan", *map(str, layouts), "--json", "--shop", str(shop)], folder)
    assert code == 0, complained
    plan = json.loads(printed)
    assert isinstance(plan, dict)
    return plan


def replayed(plan: Plan, shop: PlainShop, boards: Sequence[Board]) -> dict[SideKey, float]:
    return replay(boards, shop.kerf_mm, {shop.jig_name: shop.jig}, plan["settings"], plan["steps"])


def all_boards(shop: PlainShop, parts: Sequence[PlainPart], tolerance_mm: float | None) -> list[Board]:
    return [board for part in parts for board in part.all_boards(shop.shift_mm(tolerance_mm))]


def numbers(value: object) -> list[float]:
    """All numbers in a value made of dataclasses, mappings and sequences; a text counts by its characters."""
    if is_dataclass(value) and not isinstance(value, type):
        return [n for f in fields(value) for n in numbers(getattr(value, f.name))]
    if isinstance(value, Mapping):
        return [n for key in sorted(value) for n in [*numbers(key), *numbers(value[key])]]
    if isinstance(value, list | tuple):
        return [n for item in value for n in numbers(item)]
    if isinstance(value, str):
        return [float(ord(character)) for character in value]
    if value is None:
        return []
    assert isinstance(value, int | float)
    return [float(value)]


def all_apart(layouts: Sequence[LayoutText]) -> bool:
    """Whether no two marks are so near each other that one fence setting might serve both, though not exactly."""
    designs = [design for layout in layouts for part in layout.parts for design in part.ends.values()]
    marks = {round(m, 9) for design in designs for m in (*design.top_marks_mm, *design.bottom_marks_mm)}
    gaps = [b - a for a, b in itertools.pairwise(sorted(marks))]
    return all(layout.tolerance_mm is None for layout in layouts) and min(gaps, default=1.0) > 3 * SAME_MM


@given(batches())
@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_a_plan_of_any_valid_layout_leaves_every_tail_whole(batch: tuple[ShopText, list[LayoutText]]) -> None:
    shop_text, layouts = batch
    shop = shop_text.shop
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shop_file = folder / "my-shop.toml"
        shop_file.write_text(shop_text.text, encoding="utf-8")
        files = [folder / f"layout-{n}.toml" for n in range(len(layouts))]
        for file, layout in zip(files, layouts, strict=True):
            file.write_text(layout.text, encoding="utf-8")
        plan = planned(shop_file, files, folder)
    event(f"fence {shop.fence_side}, {shop.jig.leading_end} end leads, graduation {shop.graduation_mm:.2f} mm")
    boards = [board for layout in layouts for board in all_boards(shop, layout.parts, layout.tolerance_mm)]
    shifts = replayed(plan, shop, boards)
    if shop.graduation_mm == 0 and shop.jig.leading_end == "wide" and all_apart(layouts):
        assert max(map(abs, shifts.values())) < EXACT_MM
    assert plan["batch"]["cuts"] == len(shifts)
    for setting in plan["settings"]:
        cuts = [step for step in plan["steps"] if step["kind"] == "cut" and step["setting"] == setting["setting"]]
        assert setting["cuts"] == len(cuts)


@given(batches())
@settings(max_examples=100, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
def test_generated_files_say_the_numbers_that_come_with_them(
    batch: tuple[ShopText, list[LayoutText]],
) -> None:
    shop_text, layouts = batch
    assert numbers(read_shop(tomllib.loads(shop_text.text))) == pytest.approx(numbers(shop_text.shop), abs=1e-9)
    for layout in layouts:
        raw = tomllib.loads(layout.text)
        said = [layout.tolerance_mm, *layout.parts]
        assert numbers([read_tolerance_mm(raw), *read_parts(raw)]) == pytest.approx(numbers(said), abs=1e-9)


@pytest.mark.parametrize("shop_file", ONE_FENCE, ids=lambda path: path.stem)
@pytest.mark.parametrize("layout_file", [path for path in LAYOUTS if path not in BEYOND], ids=lambda path: path.stem)
def test_a_plan_of_a_sample_leaves_every_tail_whole(layout_file: Path, shop_file: Path, tmp_path: Path) -> None:
    shop = read_shop(tomllib.loads(shop_file.read_text(encoding="utf-8")))
    layout = tomllib.loads(layout_file.read_text(encoding="utf-8"))
    boards = all_boards(shop, read_parts(layout), read_tolerance_mm(layout))
    plan = planned(shop_file, [layout_file], tmp_path)
    assert plan["batch"]["cuts"] == len(replayed(plan, shop, boards))


@pytest.mark.parametrize("shop_file", ONE_FENCE, ids=lambda path: path.stem)
def test_all_samples_in_one_batch_leave_every_tail_whole(shop_file: Path, tmp_path: Path) -> None:
    shop = read_shop(tomllib.loads(shop_file.read_text(encoding="utf-8")))
    files = [path for path in LAYOUTS if path not in BEYOND]
    raw = [tomllib.loads(path.read_text(encoding="utf-8")) for path in files]
    boards = [b for layout in raw for b in all_boards(shop, read_parts(layout), read_tolerance_mm(layout))]
    plan = planned(shop_file, files, tmp_path)
    assert plan["batch"]["cuts"] == len(replayed(plan, shop, boards))


@pytest.mark.parametrize("layout_file", LAYOUTS, ids=lambda path: path.stem)
def test_with_two_fences_and_two_jigs_even_what_is_beyond_one_leaves_every_tail_whole(
    layout_file: Path, tmp_path: Path
) -> None:
    shop_file = SAMPLES / "shop-two-fences.toml"
    shop = read_shop(tomllib.loads(shop_file.read_text(encoding="utf-8")))
    layout = tomllib.loads(layout_file.read_text(encoding="utf-8"))
    boards = all_boards(shop, read_parts(layout), read_tolerance_mm(layout))
    plan = planned(shop_file, [layout_file], tmp_path)
    second = Jig(shop.jig.slope, 60.0, "narrow")
    jigs = {shop.jig_name: shop.jig, "narrow end first": second}
    assert plan["batch"]["cuts"] == len(replay(boards, shop.kerf_mm, jigs, plan["settings"], plan["steps"]))
    used = {(setting["fence_side"], setting["jig"]) for setting in plan["settings"]}
    assert len(used) == (2 if layout_file in BEYOND else 1)


@pytest.mark.parametrize("shop_file", ONE_FENCE, ids=lambda path: path.stem)
@pytest.mark.parametrize("layout_file", BEYOND, ids=lambda path: path.stem)
def test_a_sample_beyond_the_saw_is_refused(layout_file: Path, shop_file: Path, tmp_path: Path) -> None:
    code, printed, complained = ran(["plan", str(layout_file), "--json", "--shop", str(shop_file)], tmp_path)
    assert code == 1
    assert not printed
    assert "case side" in complained
