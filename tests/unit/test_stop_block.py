"""A stop block on the jig's travel, by hand-worked numbers and by turning the board in the plane."""

from __future__ import annotations

import math
import re

import pytest
from support.small_jobs import job, joint, part, plain, shop, two_tails

from coach.ground.lengths import Unit
from coach.ground.terms import End
from coach.plan.deciding.decide import decide
from coach.plan.helping.stop_block import StopMove, corner_mm, stop_move_mm, stop_moves, stops
from coach.plan.job import Job
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan
from coach.shop.tools import Shop
from coach.telling.phrases import Saying
from coach.telling.plan.stop_block import stop_as_json, stop_lines
from coach.telling.plan.why import why_lines

ROOT = math.sqrt(65)  # 1:8: sin = 1/√65, cos = 8/√65


def moves_of(of: Job, *, smallest_first: bool = False) -> list[StopMove]:
    return stop_moves(of, decide(of, smallest_first=smallest_first), stops(of))


def test_the_stop_moves_by_the_marks_difference_times_the_sine() -> None:
    # By hand: (5 − 30.5)/√65 = −3.16289 mm, towards the person.
    first, second = moves_of(two_tails())
    assert first.move_mm is None
    assert second.move_mm == pytest.approx(-25.5 / ROOT)
    assert plain(second.move_mm or 0.0) == "-3.163"


def test_from_the_smallest_mark_on_the_stop_moves_away_from_the_person() -> None:
    assert moves_of(two_tails(), smallest_first=True)[1].move_mm == pytest.approx(25.5 / ROOT)


def test_with_a_narrow_leading_jig_the_stop_moves_the_other_way() -> None:
    # By hand: from the edge at the jig the marks are 57 − 5 = 52 and 57 − 30.5 = 26.5 mm.
    first, second = moves_of(two_tails(shop(wide_leads=False)))
    assert [plain(first.mark_mm), plain(second.mark_mm)] == ["52.000", "26.500"]
    assert second.move_mm == pytest.approx(25.5 / ROOT)


def test_a_cut_is_as_long_as_the_tail_over_the_cosine() -> None:
    # By hand: 12 · √65/8 = 12.0934 mm.
    (stop,) = stops(two_tails())
    assert plain(stop.cut_mm) == "12.093"


def test_unlike_ends_need_two_stops_that_stand_apart_by_what_their_cuts_differ() -> None:
    # By hand: tails of 15 and 12 mm: 3 · √65/8 = 3.02335 mm.
    ends = {End.A: joint((5.0,), mates_with_mm=15.0), End.B: joint((5.0,))}
    unlike = job([part(ends)])
    near, far = stops(unlike)
    assert ([end for _, end in near.ends], [end for _, end in far.ends]) == ([End.B], [End.A])
    assert (plain(near.beyond_mm), plain(far.beyond_mm)) == ("0.000", "3.023")
    (move,) = moves_of(unlike)
    assert move.stops == (0, 1)


def test_a_setting_that_cuts_one_end_only_uses_its_stop_only() -> None:
    ends = {End.A: joint((5.0, 30.5), mates_with_mm=15.0), End.B: joint((5.0,))}
    assert [move.stops for move in moves_of(job([part(ends)]))] == [(1,), (0, 1)]


def test_parts_of_other_thickness_need_stops_of_their_own() -> None:
    thick = part({End.A: joint((5.0,), mates_with_mm=20.0)}, label="thick")
    assert len(stops(job([part({End.A: joint((5.0,))}), thick]))) == 2


def test_the_corner_in_the_waste_is_deeper_by_the_kerf_times_the_sine() -> None:
    # By hand: 0.9/√65 = 0.1116 mm.
    assert plain(corner_mm(two_tails())) == "0.112"


@pytest.mark.parametrize("wide_leads", [True, False])
def test_the_stop_moves_as_far_as_the_board_must_go_to_bring_the_baseline_to_the_blade(wide_leads: bool) -> None:
    # Rotation in the plane, from the board's own axes: across it from the edge at the jig, and along it. The blade is
    # at y = 0 and cuts along the table's y axis, so the side's point on the baseline must come to y = 0.
    slope, tail_length = math.atan(1 / 8), 12.0
    lean = slope if wide_leads else -slope

    def travel(mark: float) -> float:
        across = mark + tail_length * math.tan(slope) * (1 if wide_leads else -1)  # on the baseline
        point = complex(-across, -tail_length)  # from the leading corner at the jig, which the stop catches
        turned = point * complex(math.cos(lean), math.sin(lean))
        return -turned.imag

    jig = shop(wide_leads=wide_leads).jig
    for before, later in ((30.5, 5.0), (5.0, 80.0), (64.2, 12.7)):
        assert stop_move_mm(jig, before, later) == pytest.approx(travel(later) - travel(before))


def test_a_stop_may_reach_as_far_past_the_jigs_tip_as_the_smallest_mark_leaves_it() -> None:
    # The mark of 5 mm: 5 · 8/√65 − 0.9 = 4.061 from the tip to the near side of the kerf.
    job = two_tails()
    settings = decide(job)
    for setting in range(len(settings.fence_mm)):
        assert settings.stop_room_mm(job, setting) == pytest.approx(5 * 8 / math.sqrt(65) - 0.9)


def only_a_left(tools: Shop | None = None) -> Job:
    """A handed part with one board: there is no right."""
    ends = {End.A: joint((5.0, 30.5)), End.B: joint((5.0, 30.5), mates_with_mm=15.0)}
    return job([part(ends, boards=1, handed=True)], tools)


def test_no_right_is_named_where_there_is_none() -> None:
    made = only_a_left(shop(graduation_mm="1/2"))
    settings = decide(made)
    steps = list(plan(beginning(made, settings)))
    saying = Saying("mm", made.shop.fence.graduation)
    said = " ".join([*stop_lines(made, settings, saying), *why_lines(made, settings, steps, saying)])
    assert "left end A" in said
    assert "right end" not in said
    assert "(right)" not in said


def test_the_jigs_stop_may_reach_less_than_the_nearest_kerf() -> None:
    # 5 · 8/√65 − 0.9 = 4.0614 mm, said no larger than it is; in inches 0.1599, said 0.159.
    made = two_tails()
    assert any(
        "must reach less than 4.06 mm past" in line for line in stop_lines(made, decide(made), Saying("mm", None))
    )
    inches = " ".join(stop_lines(made, decide(made), Saying("in", None)))
    assert "must reach less than 0.159 in past the jig's tip" in inches
    told = stop_as_json(made, decide(made))["settings"]
    assert [one["stop_reaches_less_than_mm"] for one in told] == pytest.approx([5 * 8 / ROOT - 0.9] * 2)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_shift_or_a_move_of_nothing_is_never_said_with_a_sign(unit: Unit) -> None:
    for wide in (True, False):
        for scale in ("127/320", "1/2", "1/100"):
            tools = shop(graduation_mm=scale, wide_leads=wide)
            made = job([part({End.A: joint((5.001, 30.499), (5.0, 30.5))})], tools, tolerance_mm=0.4)
            settings = decide(made)
            steps = list(plan(beginning(made, settings)))
            saying = Saying(unit, made.shop.fence.graduation)
            said = " ".join([*why_lines(made, settings, steps, saying), *stop_lines(made, settings, saying)])
            assert not re.search(r"[+−-]0(\.0+)? (mm|in)", said), said
