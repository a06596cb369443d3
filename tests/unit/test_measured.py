"""What a measure on the scrap means: counted off on paper, with kerfs of 1 mm that run straight in."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import pytest
from shapely import MultiPolygon, box
from shapely.ops import unary_union
from support.small_jobs import shop

from coach.ground.errors import CoachError
from coach.talk.asking import Choices, words_of
from coach.talk.measured import Measured, ScrapCut, marks_from_both, settled
from coach.telling.phrases import Saying

EXPECTED_MM = 30.0


def scrap(*, wide_leads: bool = True, expected_mm: float = EXPECTED_MM, kerf_mm: float = 1.0) -> ScrapCut:
    jig = shop(kerf_mm=kerf_mm, slope=0.0, wide_leads=wide_leads).jig
    return ScrapCut(expected_mm, jig, kerf_mm, Saying("mm", None), "escape")


class Answers:
    """Answers the one question with the choice of that number."""

    def __init__(self, chosen: int | None) -> None:
        self.chosen = chosen
        self.asked: list[str] = []

    async def choose(self, question: str, choices: Choices, told: Sequence[str] = ()) -> int | None:
        self.asked += [question, *map(words_of, choices), *told]
        return self.chosen

    async def enter(self, question: str, value: str, check: Callable[[str], object]) -> str | None:
        raise AssertionError((question, value, check))


def left_between(wide_leads: bool, mark_mm: float, width_mm: float) -> float:
    """The wood between two kerfs, each sawn from its own edge of a scrap, by cutting a strip with Shapely."""
    near, far = (mark_mm - 1.0, mark_mm) if wide_leads else (mark_mm, mark_mm + 1.0)
    kerfs = unary_union([box(near, 0, far, 1), box(width_mm - far, 0, width_mm - near, 1)])
    left = box(0, 0, width_mm, 1).difference(kerfs)
    assert isinstance(left, MultiPolygon)
    strips = sorted(left.geoms, key=lambda strip: strip.centroid.x)
    assert len(strips) == 3
    return float(strips[1].area)


@pytest.mark.parametrize("wide_leads", [True, False])
@pytest.mark.parametrize("width_mm", [100.0, 66.0, 55.0, 50.0])
@pytest.mark.parametrize("mark_mm", [29.2, 30.0, 30.7])
def test_one_of_the_marks_that_a_scrap_cut_from_both_edges_may_mean_is_the_one_that_was_cut(
    wide_leads: bool, width_mm: float, mark_mm: float
) -> None:
    left_mm = left_between(wide_leads, mark_mm, width_mm)
    apart, crossed = marks_from_both(scrap(wide_leads=wide_leads).jig, 1.0, width_mm, left_mm)
    assert (crossed if mark_mm > width_mm / 2 else apart) == pytest.approx(mark_mm)


async def test_a_scrap_a_little_under_twice_the_mark_is_asked_about() -> None:
    # Cut at 30.7 mm, the kerfs of a scrap of 58 mm have crossed: 29.7 to 30.7 and 27.3 to 28.3, with 1.4 mm between.
    # Standing apart they would be those of a fence at 28.3 mm, and the correction would go the wrong way.
    found = scrap().from_both_edges("58 mm", "1.4 mm")
    assert found.marks_mm == pytest.approx((28.3, 30.7))
    answers = Answers(1)
    assert await settled(answers, found) == pytest.approx(30.7)
    assert answers.asked[0] == "Have the two kerfs crossed?"
    assert any("well over twice as wide" in said for said in answers.asked)
    assert await settled(Answers(0), found) == pytest.approx(28.3)
    assert await settled(Answers(None), found) is None


async def test_a_scrap_well_over_twice_the_mark_is_not_asked_about() -> None:
    found = scrap().from_both_edges("100 mm", "39 mm")
    assert await settled(Answers(None), found) == pytest.approx(30.5)


@pytest.mark.parametrize(
    ("wide_leads", "typed", "then_mm"),
    [(True, "29 mm", 30.0), (True, "29.2 mm", 30.2), (False, "31.1 mm", 30.1)],
)
async def test_a_measure_off_by_one_kerf_is_asked_about(wide_leads: bool, typed: str, then_mm: float) -> None:
    found = scrap(wide_leads=wide_leads).from_one_edge(typed)
    answers = Answers(1)
    assert await settled(answers, found) == pytest.approx(then_mm)
    assert answers.asked[0].startswith("To which side of the kerf was that measured")
    assert await settled(Answers(0), found) == pytest.approx(float(typed.split()[0]))


@pytest.mark.parametrize("typed", ["30 mm", "30.5 mm", "29.6 mm", "28.5 mm", "32 mm"])
async def test_another_measure_is_taken_as_it_is(typed: str) -> None:
    found = scrap().from_one_edge(typed)
    assert found == Measured((float(typed.split()[0]),))


async def test_a_kerf_is_as_wide_as_it_is_along_the_end() -> None:
    steep = ScrapCut(30.0, shop(slope=math.radians(40)).jig, 3.0, Saying("mm", None), "escape")
    along_mm = 3.0 / math.cos(math.radians(40))
    assert len(steep.from_one_edge(f"{30 - along_mm:.4f} mm").marks_mm) == 2
    assert len(steep.from_one_edge("27 mm").marks_mm) == 1


def test_wood_left_that_no_mark_near_the_expected_one_leaves_is_refused() -> None:
    with pytest.raises(CoachError, match=r"That is 17.5 mm off"):
        scrap().from_both_edges("100 mm", "5 mm")
