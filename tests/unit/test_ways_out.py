"""Ways out where a saw can't reach: each is what it says, works when carried out with rigid boards, and is ranked."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from support.rigged_jobs import even_end, fence, jig, panel, rigidly, shop
from support.small_jobs import job as job_of
from support.small_jobs import part, plain

from coach.ground.errors import CoachError
from coach.ground.terms import End, Hand
from coach.loading import load
from coach.plan.deciding.decide import decide
from coach.plan.job import make_job
from coach.plan.judging.reach_problems import reach_problems
from coach.propose.ways_out import Way, ways_out, with_shop

WIDE = jig("one in eight", 80.0)


def found(limits: list[Way], what: str) -> Way:
    (way,) = [way for way in limits if what in way.text]
    return way


def test_a_throat_too_small_is_got_round_by_the_fence_on_the_column_s_side() -> None:
    # From the blade 300 mm panels take (300 − 8) · 8/√65 + 0.9 = 290.65 mm.
    job = panel(shop([fence(Hand.RIGHT, 330.0)], [WIDE], throat_mm=285.0))
    ways = ways_out(job, plain)
    way = ways[0]
    # Only the widest marks are cut from the right: at the left the fence goes as far as the mark of 8 mm needs,
    # 80 + 8 · 8/√65 − 0.9 = 87.04, which leaves 285 − 87.04 to the column.
    assert way.text == (
        "the fence at the left of the blade, with jig “one in eight” turned over, if its body takes up no more than "
        "197.000 between it and the column"
    )
    assert way.settings.rig_changes == 1
    thick = fence(Hand.LEFT, 330.0, body_mm=197.0)
    across = with_shop(job, replace(job.shop, fences=(*job.shop.fences, thick)))
    assert reach_problems(across, decide(across), plain) == []
    assert len(rigidly(across, decide(across))) == job.cuts


def test_a_fence_that_ends_too_soon_is_got_round_by_a_jig_whose_narrow_end_leads() -> None:
    # The furthest side is at 241.6 mm, F = 80 + 241.6 · 8/√65 − 0.9 = 318.84: with 250 mm the narrow end may be
    # 250 − (300 − 183.2) · 8/√65 = 134.1 wide at most.
    job = panel(shop([fence(Hand.RIGHT, 250.0)], [WIDE]))
    way = found(ways_out(job, plain), "narrow end leads")
    assert "20.000 to 134.000 wide there;" in way.text
    assert "clamp the boards to it or give it a heel" in way.text
    assert "a scrap cut of its own" in way.text
    for width in (20.0, 77.0, 134.0):
        second = with_shop(job, replace(job.shop, jigs=(WIDE, jig("second", width, wide_leads=False))))
        settings = decide(second)
        assert reach_problems(second, settings, plain) == []
        assert settings.rig_changes == way.settings.rig_changes == 1
        assert len(rigidly(second, settings)) == job.cuts


def test_a_narrow_end_wider_than_it_says_would_not_do() -> None:
    job = panel(shop([fence(Hand.RIGHT, 250.0)], [WIDE]))
    too_wide = with_shop(job, replace(job.shop, jigs=(WIDE, jig("second", 135.0, wide_leads=False))))
    assert reach_problems(too_wide, decide(too_wide), plain) != []


def test_a_narrower_jig_lets_a_fence_reach_a_little_further() -> None:
    # 318.84 − 310 = 8.84 mm are missing, so it may be 71.16 mm wide: 71 in whole millimetres.
    job = panel(shop([fence(Hand.RIGHT, 310.0)], [WIDE]))
    way = ways_out(job, plain)[0]
    assert way.text == "a jig of the same slope, 20.000 to 71.000 wide at its leading end"
    assert way.settings.rig_changes == 0


def test_a_trailing_corner_is_got_clear_of_the_fence_by_a_wider_jig() -> None:
    tools = shop([fence(Hand.RIGHT, 330.0, front_mm=700.0)], [WIDE])
    long = job_of([part({End.A: even_end(57.0, 2, 5.0, 4.0)}, length_mm=1000.0)], tools)
    assert "trailing corner" in reach_problems(long, decide(long), plain)[0]
    way = found(ways_out(long, plain), "wide at its leading end")
    width = float(re.findall(r"slope, ([\d.]+) to", way.text)[0])
    wider = with_shop(long, replace(long.shop, jigs=(jig("wider", width),)))
    assert reach_problems(wider, decide(wider), plain) == []
    narrower = with_shop(long, replace(long.shop, jigs=(jig("narrower", width - 1.0),)))
    assert reach_problems(narrower, decide(narrower), plain) != []


def test_wider_half_pin_sockets_are_a_last_way_out_of_a_throat_too_small() -> None:
    job = panel(shop([fence(Hand.RIGHT, 330.0)], [WIDE], throat_mm=285.0))
    way = ways_out(job, plain)[-1]
    # 300 − (285 − 0.9) · √65/8 = 13.69: 14 in whole millimetres; five tails of (300 − 28 − 32) / 5 = 48.
    assert way.text == (
        'other tails: part "panel": 5 tails of 48.000 instead of 5 of 50.400, half-pin sockets 14.000 instead of 8.000'
    )
    assert way.redrawn


def test_fewer_tails_are_a_way_out_where_the_last_one_starts_too_far_in() -> None:
    # With three tails of 89.33 the last side is at 202.67 from its edge; with two of 138 at 154.
    tools = shop([fence(Hand.RIGHT, 240.0)], [jig("one in eight", 80.0)])
    way = found(ways_out(panel(tools, tails=3), plain), "other tails")
    assert way.text.startswith('other tails: part "panel": 2 tails of 138.000 instead of 3 of 89.333')


def test_ways_are_ranked_by_the_layout_kept_then_changes_then_settings() -> None:
    job = panel(shop([fence(Hand.RIGHT, 330.0)], [WIDE], throat_mm=285.0))
    ways = ways_out(job, plain)
    assert len(ways) >= 3
    assert [way.rank for way in ways] == sorted(way.rank for way in ways)
    assert [way.redrawn for way in ways] == [False, False, True]


def test_marks_drawn_by_hand_are_not_redrawn() -> None:
    end = replace(even_end(300.0, 3, 8.0, 8.0), top_marks_mm=(8.0, 100.0, 202.0))
    tools = shop([fence(Hand.RIGHT, 240.0)], [WIDE])
    job = job_of([part({End.A: end}, width_mm=300.0)], tools)
    assert all(not way.redrawn for way in ways_out(job, plain))


def test_where_nothing_helps_no_way_out_is_made_up() -> None:
    tools = shop([fence(Hand.RIGHT, 90.0)], [WIDE], throat_mm=100.0)
    assert ways_out(panel(tools), plain) == []


def test_a_wider_jig_beside_the_one_in_use_brings_the_smallest_marks_to_a_fence_that_comes_no_nearer() -> None:
    # F = 80 + 8 · 8/√65 − 0.9 = 87.04 for the smallest mark, which is 32.96 short of 120; the widest needs 318.84.
    job = panel(shop([fence(Hand.RIGHT, 320.0, least_mm=120.0)], [WIDE]))
    way = found(ways_out(job, plain), "wide at its leading end")
    assert way.settings.rig_changes == 1
    # 120 − 87.04 + 80 = 112.96, so 113 at least; for the mark of 8 mm alone 320 − 7.04 = 312.96 at most.
    assert way.text == "a jig of the same slope, 113.000 to 312.000 wide at its leading end"
    second = with_shop(job, replace(job.shop, jigs=(WIDE, jig("second", 113.0))))
    assert len(rigidly(second, decide(second))) == job.cuts


def test_a_jig_that_is_wide_enough_for_a_long_board_never_to_swing_out_is_wide_enough() -> None:
    # 500 mm long boards swing out 500 · 1/√65 = 62.02 mm: 63 mm do, however far forward the fence reaches.
    tools = shop([fence(Hand.RIGHT, 250.0, front_mm=600.0)], [jig("slim", 28.0)])
    job = job_of([part({End.A: even_end(57.0, 2, 5.0, 4.0)}, length_mm=500.0)], tools)
    way = found(ways_out(job, plain), "wide at its leading end")
    assert way.text.startswith("a jig of the same slope, 63.000 to ")


def test_beside_a_narrow_leading_jig_an_ordinary_one_is_a_way_out() -> None:
    tools = shop([fence(Hand.RIGHT, 250.0)], [jig("narrow one", 30.0, wide_leads=False)])
    job = panel(tools)
    assert reach_problems(job, decide(job), plain) != []
    assert found(ways_out(job, plain), "wide at its leading end").settings.rig_changes == 1


def test_either_of_two_fences_may_be_the_one_for_a_new_jig() -> None:
    # The first fence ends too soon for anything; only on the second one can a narrower jig reach the widest mark.
    tools = shop([fence(Hand.RIGHT, 60.0), fence(Hand.LEFT, 300.0)], [WIDE])
    way = found(ways_out(panel(tools), plain), "wide at its leading end")
    # 300 − 241.6 · 8/√65 + 0.9 = 61.16.
    assert way.text == "a jig of the same slope, 20.000 to 61.000 wide at its leading end"


def test_a_jig_of_another_slope_in_the_shop_hides_no_way_out() -> None:
    steep = replace(jig("steep", 10.0), slope=0.2)
    alone = ways_out(panel(shop([fence(Hand.RIGHT, 250.0)], [WIDE])), plain)
    assert alone
    assert [way.text for way in ways_out(panel(shop([fence(Hand.RIGHT, 250.0)], [WIDE, steep])), plain)] == [
        way.text for way in alone
    ]


def test_widths_in_inches_are_sixteenths_that_still_do() -> None:
    job = panel(shop([fence(Hand.RIGHT, 250.0)], [WIDE]))
    way = found(ways_out(job, lambda mm: f"{mm / 25.4 * 16:.4f}", "in"), "narrow end leads")
    # From 20 to 134.1 mm: 12.6 to 84.5 sixteenths of an inch.
    assert "13.0000 to 84.0000 wide there" in way.text


def test_how_many_boards_there_are_changes_no_way_out() -> None:
    few = panel(shop([fence(Hand.RIGHT, 250.0)], [WIDE]), boards=1)
    many = make_job([replace(few.layouts[0], parts=(replace(few.layouts[0].parts[0], boards=400),))], few.shop)
    assert [way.text for way in ways_out(many, plain)] == [way.text for way in ways_out(few, plain)]


def test_the_error_that_refuses_a_layout_lists_the_ways_out(tmp_path: Path) -> None:
    samples = Path(__file__).resolve().parents[2] / "layouts"
    with pytest.raises(CoachError) as caught:
        load([samples / "wide-panel.toml"], samples / "shop-mm.toml", None)
    said = caught.value.problems
    (way,) = [line for line in said if "way out" in line]
    assert "wide-panel.toml: way out 1 of 1, tried on the virtual saw: a jig of the same slope" in way
    assert "whose narrow end leads, 20 mm to 105 mm wide there and the fence at the left of the blade" in way
    assert way.endswith("9 fence settings, 1 change of fence or jig")
