"""Whatever the layout and the shop, a fitted layout is cut on graduations and stays the layout that it was."""

from __future__ import annotations

import itertools
import math
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st
from support.layout_texts import LayoutText, ShopText, batches
from support.plain_files import layout_text, shop_text
from support.plain_layout import PlainPart, PlainShop, length_mm, read_parts, read_shop
from support.proposals import SAME_MM, coach, graduation_of, mark_of, off_graduations_mm, read, sawn
from support.rigid_board import EndDesign

from coach.ground.terms import Edge

SAMPLES = Path(__file__).resolve().parents[2] / "layouts"
SHOPS = sorted(SAMPLES.glob("*shop*.toml"))
ONE_FENCE = [path for path in SHOPS if "two" not in path.stem]
BEYOND = "wide-panel"  # for the sample saw
LAYOUTS = sorted(path for path in set(SAMPLES.glob("*.toml")) - set(SHOPS) if path.stem != BEYOND)

Mark = tuple[float, float, float]  # width of the board, mark as drawn, mark as fitted


def marks_of(drawn: list[PlainPart], fitted: list[PlainPart]) -> list[Mark]:
    return [
        (part.width_mm, was, now)
        for part, other in zip(drawn, fitted, strict=True)
        for end, design in part.ends.items()
        for was, now in zip(all_marks(design), all_marks(other.ends[end]), strict=True)
    ]


def all_marks(design: EndDesign) -> tuple[float, ...]:
    return (*design.top_marks_mm, *design.bottom_marks_mm)


def legal(part: PlainPart, design: EndDesign, shop: PlainShop) -> bool:
    """Whether the blade fits into every socket and every tail keeps a third of its width at the baseline."""
    needed = shop.kerf_mm / math.cos(shop.jig.slope)
    top, bottom = design.top_marks_mm, design.bottom_marks_mm[::-1]
    tails = [part.width_mm - t - b for t, b in zip(top, bottom, strict=True)]
    sockets = [top[0], bottom[-1], *(t + b - part.width_mm for t, b in zip(top[1:], bottom, strict=False))]
    inset = 2 * design.tail_length_mm * math.tan(shop.jig.slope)
    return min(sockets) >= needed and all(tail - inset >= tail / 3 for tail in tails)


def judged(layout: Path, shop_file: Path, fitted: Path) -> bool:
    """The claims that hold for every fitted layout; whether every mark could go to the nearest graduation."""
    shop, drawn, now = read_shop(read(shop_file)), read_parts(read(layout)), read_parts(read(fitted))
    zero = length_mm(read(shop_file)["fences"][0].get("zero", "0 mm"))
    half = shop.graduation_mm / math.cos(shop.jig.slope) / 2

    def on_scale(width: float, mark: float, number: int) -> float:
        return mark_of(shop, zero, shop.graduation_mm, width, number)

    nearest = {
        (width, was): on_scale(width, was, round(graduation_of(shop, zero, shop.graduation_mm, width, was)))
        for width, was, _ in marks_of(drawn, now)
    }

    def rounded(part: PlainPart, design: EndDesign) -> EndDesign:
        top, bottom = (
            tuple(nearest[part.width_mm, mark] for mark in side)
            for side in (design.top_marks_mm, design.bottom_marks_mm)
        )
        return EndDesign(design.tail_length_mm, top, bottom)

    nearest_will_do = all(legal(part, rounded(part, design), shop) for part in drawn for design in part.ends.values())
    most = half if nearest_will_do else 2 * half
    marks = marks_of(drawn, now)
    assert max(abs(after - before) for _, before, after in marks) <= most + SAME_MM
    for (width, one, one_now), (other_width, other, other_now) in itertools.combinations(marks, 2):
        if one == other and (width == other_width or shop.jig.leading_end == "wide"):
            assert one_now == pytest.approx(other_now, abs=1e-9)
    for part, part_now in zip(drawn, now, strict=True):
        for end, design in part.ends.items():
            assert legal(part_now, part_now.ends[end], shop)
            if design.top_marks_mm == design.bottom_marks_mm:
                assert part_now.ends[end].top_marks_mm == part_now.ends[end].bottom_marks_mm
    assert off_graduations_mm(sawn([fitted], shop_file), shop_file) < SAME_MM
    return nearest_will_do


@pytest.mark.parametrize("shop_file", ONE_FENCE, ids=lambda path: path.stem)
@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda path: path.stem)
def test_a_sample_once_fitted_is_cut_on_graduations_alone(layout: Path, shop_file: Path, tmp_path: Path) -> None:
    ran = coach("fit", layout, "--shop", shop_file, "--write", tmp_path / "fitted.toml")
    assert ran.code == 0, ran.err
    judged(layout, shop_file, tmp_path / "fitted.toml")


@given(batches())
@settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
def test_any_layout_once_fitted_is_cut_on_graduations_alone(batch: tuple[ShopText, list[LayoutText]]) -> None:
    shop_text, (layout_text, *_) = batch
    assume(shop_text.shop.graduation_mm > 0)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shop_file, layout = folder / "my-shop.toml", folder / "layout.toml"
        shop_file.write_text(shop_text.text, encoding="utf-8")
        layout.write_text(layout_text.text, encoding="utf-8")
        ran = coach("fit", layout, "--shop", shop_file, "--write", folder / "fitted.toml")
        assert ran.code == 0, ran.err
        nearest_will_do = judged(layout, shop_file, folder / "fitted.toml")
        event("every mark to the nearest graduation" if nearest_will_do else "some to the other one")


@given(st.data())
@settings(max_examples=60, deadline=None, derandomize=True)
def test_on_a_coarse_scale_a_layout_is_fitted_if_neighbouring_graduations_allow_it_at_all(data: st.DataObject) -> None:
    """All ways to give each mark one of its two neighbouring graduations are tried."""
    step, width = float(data.draw(st.integers(3, 7))), 90.0
    tenths = st.integers(0, 25).map(lambda number: number / 10)
    top, bottom = ([1 + data.draw(tenths), 44.5 + data.draw(tenths)] for _ in Edge)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shop_file, layout = folder / "my-shop.toml", folder / "layout.toml"
        shop_file.write_text(shop_text(fence={"scale": f'"{step} mm"'}), encoding="utf-8")
        marks = {
            "top_marks": str([f"{mark} mm" for mark in top]),
            "bottom_marks": str([f"{mark} mm" for mark in bottom]),
        }
        spacing = {"tails": None, "half_pin": None, "pin": None, **marks}
        layout.write_text(
            layout_text({"width": f'"{width} mm"', "mates_with": '"104 mm"', **spacing}), encoding="utf-8"
        )
        shop = read_shop(read(shop_file))
        (drawn,) = read_parts(read(layout))
        assume(legal(drawn, drawn.ends["A"], shop))
        distinct = sorted({*top, *bottom})
        ways = itertools.product(*(neighbours(shop, step, width, mark) for mark in distinct))
        possible = any(
            legal(
                drawn,
                EndDesign(
                    104.0, tuple(way[distinct.index(m)] for m in top), tuple(way[distinct.index(m)] for m in bottom)
                ),
                shop,
            )
            for way in ways
        )
        event(f"possible: {possible}")
        ran = coach("fit", layout, "--shop", shop_file)
        assert (ran.code == 0) is possible
        assert possible or "expected a finer scale" in ran.err


def neighbours(shop: PlainShop, step_mm: float, width_mm: float, mark_mm: float) -> list[float]:
    at = graduation_of(shop, 0.0, step_mm, width_mm, mark_mm)
    return [mark_of(shop, 0.0, step_mm, width_mm, number) for number in (math.floor(at), math.ceil(at))]
