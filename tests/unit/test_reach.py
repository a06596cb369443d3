"""What is out of the saw's reach, each with by how much, worked by hand for a slope of 1:8 and a kerf of 0.9 mm."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from shapely import LineString, Polygon, box
from support.small_jobs import job as job_of
from support.small_jobs import joint, part, plain, shop

from coach.ground.terms import End, Hand
from coach.joint.layout import EndLayout
from coach.plan.deciding.decide import decide
from coach.plan.geometry import fence_for_mark_mm
from coach.plan.judging.reach_problems import reach_problems
from coach.plan.reach import past_blade_mm
from coach.shop.tools import Shop

KERF = 0.9
COSINE = 8 / math.sqrt(65)
SINE = 1 / math.sqrt(65)
END = joint((5.0, 30.5))


def found(tools: Shop, *, width_mm: float = 57.0, length_mm: float = 380.0, end: EndLayout = END) -> list[str]:
    job = job_of([part({End.A: end}, width_mm=width_mm, length_mm=length_mm)], tools)
    return reach_problems(job, decide(job), plain)


def test_nothing_is_wrong_where_everything_reaches() -> None:
    assert found(shop()) == []


def test_a_fence_that_does_not_go_far_enough_is_found() -> None:
    # F = 80 + 30.5 · 8/√65 − 0.9 = 109.364.
    assert found(shop(fence_max_mm=109.0)) == [
        "setting 1: the fence would stand 109.364 from the kerf; it goes to 109.000: 0.364 short"
    ]


def test_a_fence_that_goes_just_far_enough_is_no_problem() -> None:
    assert found(shop(fence_max_mm=109.365)) == []


def test_a_fence_that_does_not_come_near_enough_is_found() -> None:
    # F = 80 + 5 · 8/√65 − 0.9 = 84.061.
    assert found(shop(fence_min_mm=84.5)) == [
        "setting 2: the fence would stand 84.061 from the kerf; it comes no nearer than 84.500: 0.439 too near"
    ]


def test_a_board_too_wide_for_the_throat_is_found_at_its_smallest_mark() -> None:
    # Beyond the blade: (57 − 5) · 8/√65 + 0.9 = 52.498.
    (problem,) = found(shop(throat_mm=52.0))
    assert problem.startswith('setting 2: part "side" (mark 5.000, top edge at the jig) reaches 52.498 past')
    assert "the throat is 52.000: 0.498 short" in problem


def test_each_setting_at_which_the_throat_is_too_small_is_found_by_how_much() -> None:
    # (57 − 30.5) · 8/√65 + 0.9 = 27.195, and (57 − 5) · 8/√65 + 0.9 = 52.498.
    problems = found(shop(throat_mm=20.0))
    assert [problem.partition(": ")[0] for problem in problems] == ["setting 1", "setting 2"]
    assert [problem.rpartition(": ")[2] for problem in problems] == ["7.195 short", "32.498 short"]


def test_a_board_that_just_passes_through_the_throat_is_no_problem() -> None:
    assert found(shop(throat_mm=52.499)) == []


def test_the_widest_board_is_what_has_to_pass_through_the_throat() -> None:
    job = job_of([part({End.A: END}, widest_mm=58.0)], shop(throat_mm=53.0))
    # (58 − 5) · 8/√65 + 0.9 = 53.491.
    assert "reaches 53.491 past the blade" in reach_problems(job, decide(job), plain)[0]


def test_with_the_fence_on_the_column_side_fence_and_its_body_are_what_the_throat_bounds() -> None:
    tools = shop(fence_side=Hand.LEFT, column_side=Hand.LEFT, throat_mm=130.0, body_mm=25.0)
    # 109.364 + 25; the board is on the open side, however wide.
    assert found(tools) == [
        "setting 1: fence and column are on one side and the fence needs 134.364; the throat is 130.000: 4.364 short"
    ]


def test_with_the_fence_on_the_column_side_a_wide_board_is_no_problem() -> None:
    tools = shop(fence_side=Hand.RIGHT, column_side=Hand.RIGHT, throat_mm=130.0)
    assert found(tools, width_mm=400.0, end=joint((5.0,), (365.0,))) == [
        # Its mark 365 mm from the bottom edge is another matter: F = 80 + 365 · 8/√65 − 0.9 = 441.281.
        "setting 1: the fence would stand 441.281 from the kerf; it goes to 300.000: 141.281 short",
        "setting 1: fence and column are on one side and the fence needs 441.281; the throat is 130.000: 311.281 short",
    ]


def test_a_short_board_has_no_trailing_corner_beyond_the_jig() -> None:
    # The corner swings out by length · sin: 645 · 1/√65 = 80.003; at 644 it stays 0.12 mm within the jig's 80.
    assert found(shop(front_mm=2000.0), length_mm=644.0) == []


def test_a_long_board_is_no_problem_to_a_fence_that_does_not_reach_its_trailing_corner() -> None:
    assert found(shop(front_mm=600.0), length_mm=1000.0) == []


def test_a_trailing_corner_that_fouls_the_fence_is_found_with_how_far_it_swings() -> None:
    # 1000 · 1/√65 − 80 = 44.035.
    problems = found(shop(front_mm=900.0), length_mm=1000.0)
    assert [problem.partition(": ")[0] for problem in problems] == ["setting 1", "setting 2"]
    assert "the board's trailing corner swings 44.035 past the fence's face" in problems[0]


def drawn_board(tools: Shop, mark_mm: float, deep_mm: float, width_mm: float, length_mm: float) -> Polygon:
    """The board on the table with the cut of a side `deep_mm` along it: the blade's front at y = 0, cutting to +y.

    Its corner at the stop is put where the jig holds it, and all of it is pushed along the fence until the point of the
    side's line that lies `deep_mm` from the end has come to the blade's front.
    """
    jig = tools.jig
    lean = 1 if jig.wide_leads else -1
    corner = fence_for_mark_mm(jig, KERF, mark_mm) - jig.leading_width_mm

    def at(across: float, along: float) -> tuple[float, float]:
        return corner - across * COSINE + lean * along * SINE, -lean * across * SINE - along * COSINE

    pushed = -at(mark_mm + lean * deep_mm / 8, deep_mm)[1]
    corners = [at(0, 0), at(width_mm, 0), at(width_mm, length_mm), at(0, length_mm)]
    return Polygon([(x, y + pushed) for x, y in corners])


def test_a_drawn_board_has_its_mark_where_blade_and_kerf_are() -> None:
    board = drawn_board(shop(), 20.0, 12.0, 57.0, 380.0)
    assert board.contains(LineString([(-KERF, 0.0), (-KERF, -1.0)]))
    # At the blade's front 12 mm of the board lie beyond along the side's line, which runs along y.
    behind = board.intersection(LineString([(-KERF, 0.0), (-KERF, 100.0)]))
    assert behind.length == pytest.approx(12.0 / COSINE)


@pytest.mark.parametrize(
    ("wide_leads", "smallest_mark"),
    # Sides 5 and 185 mm from the edge that they face; from the edge at the jig of a narrow-leading one 195 and 15 mm.
    [(True, 5.0), (False, 15.0)],
    ids=["wide leads", "narrow leads"],
)
def test_a_throat_that_is_said_to_do_leaves_room_for_a_drawn_board_beside_the_blade(
    wide_leads: bool, smallest_mark: float
) -> None:
    # The column is drawn as a point beside the blade's front: a real one takes up more.
    end = joint((5.0, 185.0))
    enough = next(
        throat
        for throat in (150 + tenth / 10 for tenth in range(1000))
        if not found(shop(wide_leads=wide_leads, throat_mm=throat), width_mm=200.0, end=end)
    )
    tools = shop(wide_leads=wide_leads, throat_mm=enough)
    for deep in range(13):
        board = drawn_board(tools, smallest_mark, float(deep), 200.0, 380.0)
        beside = board.intersection(LineString([(0.0, 0.0), (-1000.0, 0.0)]))
        assert -beside.bounds[0] <= enough


def test_a_fence_that_is_said_not_to_foul_stays_clear_of_a_drawn_board_at_every_mark() -> None:
    marks, width, long, deep = (5.0, 100.0), 195.0, 1000.0, 12.0
    end = joint(marks)
    front = max(
        front
        for front in range(400, 700)
        if not found(shop(front_mm=float(front)), width_mm=width, length_mm=long, end=end)
    )
    tools = shop(front_mm=float(front))
    for mark in marks:
        face = fence_for_mark_mm(tools.jig, KERF, mark)
        fence = box(face + 1e-6, -float(front), face + 500.0, 100.0)
        assert drawn_board(tools, mark, deep, width, long).intersection(fence).area < 1e-6


def test_by_how_much_a_fence_reaches_too_far_is_measured_to_where_a_drawn_board_meets_its_face() -> None:
    marks, width, long, deep = (5.0, 100.0), 195.0, 1000.0, 12.0
    tools = shop(front_mm=900.0)
    problem = found(tools, width_mm=width, length_mm=long, end=joint(marks))[0]
    said = re.search(r"at most ([\d.]+) in front of the blade", problem)
    assert said is not None
    face = fence_for_mark_mm(tools.jig, KERF, 100.0)
    beyond = drawn_board(tools, 100.0, deep, width, long).intersection(box(face, -2000.0, face + 500.0, 100.0))
    assert float(said[1]) == pytest.approx(-beyond.bounds[3], abs=0.01)


def test_rounding_to_the_scale_never_takes_a_board_into_the_column() -> None:
    # (57 − 5) · 8/√65 + 0.9 = 52.498 at F = 84.061. On a scale of 1 mm the nearest reading is 84, where it is 52.559.
    tools = shop(throat_mm=52.52, graduation_mm="1")
    job = job_of([part({End.A: END})], tools)
    settings = decide(job)
    assert reach_problems(job, settings, plain) == []
    assert settings.fence_mm[-1] >= 84.061 + 52.498 - 52.52 - 0.001
    assert settings.fence_mm[-1] <= 84.561


def test_a_fence_that_ends_within_tolerance_of_a_mark_is_far_enough() -> None:
    # F = 109.364; a scale of 1 mm lets the mark shift so that it may stand at 109 too.
    tools = shop(fence_max_mm=109.0, graduation_mm="1")
    assert found(tools) == []
    more = replace(tools, jigs=(*tools.jigs, replace(tools.jig, name="second", leading_width_mm=40.0)))
    assert decide(job_of([part({End.A: END})], more)).rigs == ()


@pytest.mark.parametrize("mark_mm", [5.0, 20.0, 40.0])
def test_a_board_on_a_narrow_leading_jig_reaches_past_the_blade_by_what_a_drawing_shows(mark_mm: float) -> None:
    # Its mark lies at x = 0, so no kerf is added: (57 − m) cos θ + 380 sin θ.
    tools = shop(wide_leads=False)
    board = drawn_board(tools, mark_mm, 0.0, 57.0, 380.0)
    made = job_of([part({End.A: joint((5.0, 30.5))})], tools)
    fence = fence_for_mark_mm(tools.jig, KERF, mark_mm)
    assert past_blade_mm(made, made.patterns[0], fence) == pytest.approx(-board.bounds[0], abs=1e-6)
    assert past_blade_mm(made, made.patterns[0], fence) == pytest.approx((57 - mark_mm) * COSINE + 380 * SINE)


@pytest.mark.parametrize("mark_mm", [5.0, 20.0, 40.0])
def test_a_board_on_a_wide_leading_jig_reaches_past_the_blade_by_the_kerf_more(mark_mm: float) -> None:
    board = drawn_board(shop(), mark_mm, 0.0, 57.0, 380.0)
    made = job_of([part({End.A: joint((5.0, 30.5))})])
    fence = fence_for_mark_mm(shop().jig, KERF, mark_mm)
    assert past_blade_mm(made, made.patterns[0], fence) == pytest.approx(-board.bounds[0], abs=1e-6)
