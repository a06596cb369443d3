"""What a cut that went wrong means, worked by hand.

Boards are 57 mm wide with two tails: marks at 5 and 30.5 mm from either edge, so tails of 21.5 mm from 5 to 26.5 and
from 30.5 to 52 mm from the top edge, sockets of 5, 4 and 5 mm, tails 12 mm long. The kerf is 0.9 mm; at 1:8 the cosine
is 8/√65 and the kerf takes 0.9·√65/8 = 0.907 mm along the end.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest
from support.small_jobs import job, joint, part, plain, shop, two_tails

from coach.ground.terms import Edge, End, Joint, Side
from coach.joint.layout import EndLayout
from coach.plan.changing.changes import mend, mended_settings
from coach.plan.deciding.decide import decide
from coach.plan.job import Job
from coach.plan.judging.mistakes import Judgement, Mistake, Verdict
from coach.plan.judging.wrong_cuts import judge
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker

FIRST = Side(1, End.A, 1, Edge.TOP)
ALONG_END_MM = 0.9 * 65**0.5 / 8
NARROW = joint((5.0,), (5.0,))  # on a board 20 mm wide: one tail of 10 mm, 7 mm at the baseline


def walk(made: Job, done: Iterable[Side] = (FIRST,)) -> Walker:
    return Walker(replace(beginning(made, decide(made)), done=frozenset(done)))


def judged(
    mistake: Mistake, off_mm: float = 0.0, *, side: Side = FIRST, made: Job | None = None, also: Iterable[Side] = ()
) -> Judgement:
    """What `mistake` means for a side that is cut, `also` being cut as well."""
    using = two_tails(tolerance_mm=0.2) if made is None else made
    return judge(walk(using, (side, *also)), side, mistake, off_mm, plain)


def marks(found: Judgement) -> EndLayout:
    assert found.verdict is Verdict.MENDABLE
    assert found.joint is not None
    return found.joint


def one_end(end: EndLayout, *, width_mm: float) -> Job:
    """One board with tails at end A only."""
    return job([part({End.A: end}, width_mm=width_mm)])


@pytest.mark.parametrize("off_mm", [0.2, 0.1, 0.0, -0.2])
def test_a_cut_off_by_no_more_than_the_tolerance_stays_as_it_is(off_mm: float) -> None:
    assert judged(Mistake.OFF_LINE, off_mm).verdict is Verdict.WITHIN


# Rounded to the scale: F = 80 + 5·cos − 0.9 = 84.0614, set at 84.0, so every board is cut 0.0619 mm short of the line,
# out in the waste. A mark may shift by 0.25/cos = 0.252 mm.
ROUNDED_MM = 0.0619


@pytest.mark.parametrize(
    ("off_mm", "verdict"),
    [
        (-ROUNDED_MM, Verdict.WITHIN),  # as the others are
        (0.0, Verdict.WITHIN),  # right on the line, which the others aren't
        (0.18, Verdict.WITHIN),  # 0.242 mm further in than the others
        (0.20, Verdict.MENDABLE),  # 0.262 mm
        (-0.30, Verdict.WITHIN),  # 0.238 mm further out
        (-0.33, Verdict.CUT_AGAIN),  # 0.268 mm
    ],
)
def test_how_far_off_the_pencil_line_a_cut_is_counts_from_where_the_others_are_cut(
    off_mm: float, verdict: Verdict
) -> None:
    assert judged(Mistake.OFF_LINE, off_mm, made=two_tails(shop(graduation_mm="1/2"))).verdict is verdict


def test_a_mark_that_is_moved_goes_to_where_the_cut_was_measured_from_the_pencil_line() -> None:
    scaled = two_tails(shop(graduation_mm="1/2"))
    assert marks(judged(Mistake.OFF_LINE, 0.35, made=scaled)).top_marks_mm[0] == pytest.approx(5.35)


def test_a_board_off_the_line_as_the_others_are_gets_no_warning_of_the_gang_and_one_that_is_off_them_does() -> None:
    # F = 84.0614 as above; a scale in 0.8 mm that reads 0.6 at the blade has its lines at 83.4, 84.2, … mm.
    scaled = two_tails(shop(graduation_mm="4/5", zero_mm=0.6), tolerance_mm=0.4)
    shift = walk(scaled).mark_as_cut_mm(FIRST) - 5
    assert shift == pytest.approx((83.4 + 0.8 - 84.0614) * 65**0.5 / 8, abs=1e-3)
    as_they_are = judged(Mistake.OFF_LINE, shift, made=scaled)
    off_them = judged(Mistake.OFF_LINE, shift + 0.41, made=scaled)
    assert as_they_are.verdict is Verdict.WITHIN
    assert off_them.lines[-1].startswith("Mark its pins from this board")
    assert f"socket 1: {5 + shift + 0.41:.3f} at the end instead of {5 + shift:.3f}" in off_them.lines


def test_it_is_said_how_far_from_the_line_the_others_are_cut() -> None:
    scaled = two_tails(shop(graduation_mm="1/2"))
    assert judged(Mistake.OFF_LINE, 0.1, made=scaled).lines == (
        "0.162 off from where the others are cut (0.062 off the line), within the 0.252 that a mark may shift.",
    )


def test_a_kerf_out_in_the_waste_is_cut_again() -> None:
    found = judged(Mistake.OFF_LINE, -0.6)
    assert found.verdict is Verdict.CUT_AGAIN
    assert "0.600 out in the waste" in found.lines[0]


@pytest.mark.parametrize(
    ("off_mm", "verdict"),
    [
        (-3.0, Verdict.CUT_AGAIN),  # the kerf lies from 26.593 to 27.5 mm, clear of tail 1, which ends at 26.5
        (-3.2, Verdict.CUT_AGAIN),  # it takes 0.107 mm of tail 1, within tolerance
        (-3.4, Verdict.SPOILED),  # it takes 0.307 mm
    ],
)
def test_a_kerf_so_far_out_that_it_takes_of_the_next_tail_spoils_that(off_mm: float, verdict: Verdict) -> None:
    assert judged(Mistake.OFF_LINE, off_mm, side=Side(1, End.A, 2, Edge.TOP)).verdict is verdict


def test_how_much_of_the_next_tail_a_kerf_takes_is_said() -> None:
    found = judged(Mistake.OFF_LINE, -3.4, side=Side(1, End.A, 2, Edge.TOP))
    assert found.lines == ("The kerf reaches 0.307 into tail 1 at end A, from its bottom side.",)


def test_a_jig_whose_narrow_end_leads_tells_waste_from_tail_alike() -> None:
    narrow = two_tails(shop(wide_leads=False), tolerance_mm=0.2)
    second = Side(1, End.A, 2, Edge.TOP)
    assert judged(Mistake.OFF_LINE, -3.0, side=second, made=narrow).verdict is Verdict.CUT_AGAIN
    assert judged(Mistake.OFF_LINE, -3.4, side=second, made=narrow).lines == (
        "The kerf reaches 0.307 into tail 1 at end A, from its bottom side.",
    )
    assert marks(judged(Mistake.OFF_LINE, 0.6, side=second, made=narrow)).top_marks_mm == pytest.approx((5.0, 31.1))


def test_a_cut_into_the_tail_moves_its_mark() -> None:
    found = marks(judged(Mistake.OFF_LINE, 0.6))
    assert found.top_marks_mm == pytest.approx((5.6, 30.5))
    assert found.bottom_marks_mm == (5.0, 30.5)


def test_a_cut_into_the_tail_from_below_moves_the_mark_from_the_bottom_edge() -> None:
    found = marks(judged(Mistake.OFF_LINE, 0.6, side=Side(1, End.A, 1, Edge.BOTTOM)))
    assert found.top_marks_mm == (5.0, 30.5)
    assert found.bottom_marks_mm == pytest.approx((5.0, 31.1))


def test_what_tail_and_half_pin_socket_become_is_said() -> None:
    assert judged(Mistake.OFF_LINE, 0.6).lines == (
        "tail 1: 20.900 wide at the end instead of 21.500",
        "socket 1: 5.600 at the end instead of 5.000",
        "Mark its pins from this board: pins cut in one gang with the others won't fit it.",
    )


def test_what_tail_and_inner_socket_become_is_said() -> None:
    assert judged(Mistake.OFF_LINE, 0.6, side=Side(1, End.B, 2, Edge.TOP)).lines[:2] == (
        "tail 2: 20.900 wide at the end instead of 21.500",
        "socket 2: 4.600 at the end instead of 4.000",
    )


def test_a_tail_left_too_narrow_is_made_up_for_by_its_other_side() -> None:
    # Cut 6 mm into it, the tail is 4 mm at the end and 1 mm at the baseline, less than a third. It needs 4.5 mm. The
    # other socket has 5 − 0.907 mm to give, in twentieths of 0.205 mm: three of them.
    side = Side(1, End.A, 1, Edge.TOP)
    found = marks(judged(Mistake.OFF_LINE, 6.0, side=side, made=one_end(NARROW, width_mm=20.0)))
    assert found.top_marks_mm == pytest.approx((11.0,))
    assert found.bottom_marks_mm == pytest.approx((5.0 - 3 * (5.0 - ALONG_END_MM) / 20,))


def test_a_tail_left_too_narrow_is_spoiled_once_its_other_side_is_cut() -> None:
    made = one_end(NARROW, width_mm=20.0)
    found = judged(Mistake.OFF_LINE, 6.0, made=made, also=[Side(1, End.A, 1, Edge.BOTTOM)])
    assert found.verdict is Verdict.SPOILED
    assert "tail 1" in found.lines[0]
    assert found.lines[-1] == "No mark that isn't cut yet could make up for it."


def test_a_tail_that_its_other_side_cant_make_up_for_is_spoiled() -> None:
    # Cut 10 mm into it, nothing is left; all that the other socket has to give makes a tail of 4.093 mm.
    assert judged(Mistake.OFF_LINE, 10.0, made=one_end(NARROW, width_mm=20.0)).verdict is Verdict.SPOILED


def test_a_kerf_on_the_wrong_side_of_the_line_is_its_width_along_the_end_in_the_tail() -> None:
    assert marks(judged(Mistake.WRONG_SIDE)).top_marks_mm[0] == pytest.approx(5.0 + ALONG_END_MM)


def test_a_kerf_on_the_wrong_side_of_the_line_is_as_wide_as_the_blade_that_cut_it() -> None:
    now = walk(two_tails(shop(kerf_mm=1.4), tolerance_mm=0.2))
    then = walk(two_tails(tolerance_mm=0.2), ())
    found = judge(now, FIRST, Mistake.WRONG_SIDE, 0.0, plain, then)
    assert marks(found).top_marks_mm[0] == pytest.approx(5.0 + ALONG_END_MM)


# How much longer tails may be: up to 1/32 in, to be planed flush (Noyes, Handwork in Wood, 1910, ch. VII no. 48).
@pytest.mark.parametrize("deep_mm", [0.1, 0.5, 25.4 / 32])
def test_a_cut_a_little_too_deep_is_met_by_the_baseline(deep_mm: float) -> None:
    found = judged(Mistake.TOO_DEEP, deep_mm)
    assert marks(found).tail_length_mm == pytest.approx(12.0 + deep_mm)
    assert found.lines[0].endswith(f"its tails stand proud by {deep_mm:.3f} and are planed flush.")
    # What is moved in at one end is missing between the shoulders: the opposite side of the piece is longer by it.
    assert f"{deep_mm:.3f} shorter between its shoulders than the board across from it" in found.lines[1]
    assert "out of square" in found.lines[1]
    assert found.lines[2] == "Pins cut in one gang with the others still fit it."
    assert found.lines[3] == f"Or leave the baseline: the overcut stays as a slit in the corner, {deep_mm:.3f} deep."
    assert found.may_stay


def test_the_mate_of_a_left_that_was_cut_too_deep_is_a_right() -> None:
    end = joint((5.0, 30.5))
    made = job([part({End.A: end, End.B: end}, boards=2, handed=True)])
    assert "the right across from it" in judged(Mistake.TOO_DEEP, 0.4, made=made).lines[1]


def test_a_cut_more_than_a_32nd_of_an_inch_too_deep_spoils_the_board() -> None:
    assert judged(Mistake.TOO_DEEP, 0.8).verdict is Verdict.SPOILED


@pytest.mark.parametrize("deep_mm", [0.0, -2.0])
def test_a_cut_not_past_the_baseline_is_none_too_deep(deep_mm: float) -> None:
    assert judged(Mistake.TOO_DEEP, deep_mm).verdict is Verdict.WITHIN


def test_a_second_cut_too_deep_from_the_baseline_scribed_anew_adds_up() -> None:
    deeper = mended(Mistake.TOO_DEEP, 0.5)
    other = Side(1, End.A, 2, Edge.BOTTOM)
    found = judge(deeper, other, Mistake.TOO_DEEP, 0.2, plain, deeper)
    assert marks(found).tail_length_mm == pytest.approx(12.7)
    assert judge(deeper, other, Mistake.TOO_DEEP, 0.4, plain, deeper).verdict is Verdict.SPOILED


def test_a_second_cut_that_was_too_deep_before_the_baseline_was_scribed_anew_needs_nothing_more() -> None:
    found = judge(mended(Mistake.TOO_DEEP, 0.5), FIRST, Mistake.TOO_DEEP, 0.5, plain, walk(two_tails(), ()))
    assert found.verdict is Verdict.WITHIN


def test_in_a_half_blind_joint_a_cut_too_deep_is_met_by_the_pin_boards_sockets() -> None:
    end = replace(joint((5.0, 30.5), mates_with_mm=16.0), joint=Joint.HALF_BLIND, lap_mm=4.0)
    found = judged(Mistake.TOO_DEEP, 0.5, made=one_end(end, width_mm=57.0))
    assert found.verdict is Verdict.MENDABLE
    assert found.lines[0] == (
        "Scribe this end's baseline 0.500 further in and clear to it; chop the sockets of its pin board 0.500 deeper, "
        "which leaves the lap 3.500 thick."
    )
    assert "out of square" in found.lines[1]


def test_a_cut_too_deep_by_as_much_as_the_lap_is_thick_spoils_the_board() -> None:
    end = replace(joint((5.0, 30.5), mates_with_mm=12.5), joint=Joint.HALF_BLIND, lap_mm=0.5)
    assert judged(Mistake.TOO_DEEP, 0.5, made=one_end(end, width_mm=57.0)).verdict is Verdict.SPOILED


def test_the_wrong_edge_of_an_even_layout_cuts_the_mirrored_side() -> None:
    found = judged(Mistake.WRONG_EDGE)
    assert (found.verdict, found.counts_as) == (Verdict.COUNTS_AS, Side(1, End.A, 2, Edge.BOTTOM))
    assert "it is done now" in found.lines[0]


def test_the_wrong_edge_cuts_nothing_anew_where_the_mirrored_side_is_cut() -> None:
    mirrored = Side(1, End.A, 2, Edge.BOTTOM)
    found = judged(Mistake.WRONG_EDGE, also=[mirrored])
    assert found.counts_as == mirrored
    assert "nothing is lost" in found.lines[0]


def test_the_wrong_edge_of_an_uneven_layout_may_leave_the_kerf_in_the_waste() -> None:
    # 5 mm from the bottom edge lies in the half-pin socket of 9 mm there.
    uneven = one_end(joint((5.0,), (9.0,)), width_mm=30.0)
    assert judged(Mistake.WRONG_EDGE, made=uneven).verdict is Verdict.CUT_AGAIN


def test_the_wrong_edge_of_an_uneven_layout_may_take_of_a_tail() -> None:
    # 9 mm from the top edge lies in the tail, which begins at 5 mm there.
    uneven = one_end(joint((5.0,), (9.0,)), width_mm=30.0)
    found = judged(Mistake.WRONG_EDGE, side=Side(1, End.A, 1, Edge.BOTTOM), made=uneven)
    assert found.verdict is Verdict.SPOILED
    assert found.lines == ("The kerf goes right through tail 1 at end A: the tail is cut through.",)


def test_the_wrong_end_of_a_board_with_equal_ends_cuts_the_same_side_there() -> None:
    found = judged(Mistake.WRONG_END)
    assert (found.verdict, found.counts_as) == (Verdict.COUNTS_AS, Side(1, End.B, 1, Edge.TOP))


def test_the_wrong_end_of_a_board_with_other_tails_there_may_take_of_one() -> None:
    ends = {End.A: joint((12.0, 33.0)), End.B: joint((5.0, 30.5))}
    found = judged(Mistake.WRONG_END, made=job([part(ends)]))
    assert found.lines == ("The kerf goes right through tail 1 at end B: the tail is cut through.",)


def test_the_wrong_end_of_a_board_with_other_tails_there_may_leave_the_kerf_in_the_waste() -> None:
    ends = {End.A: joint((3.0, 30.5)), End.B: joint((5.0, 30.5))}
    assert judged(Mistake.WRONG_END, made=job([part(ends)])).verdict is Verdict.CUT_AGAIN


def test_a_kerf_at_an_end_that_gets_no_tails_spoils_the_board() -> None:
    found = judged(Mistake.WRONG_END, made=one_end(joint((5.0, 30.5)), width_mm=57.0))
    assert found.verdict is Verdict.SPOILED
    assert found.lines == ("End B gets no tails, and now has a kerf.",)


def mended(mistake: Mistake, off_mm: float, *, made: Job | None = None) -> Walker:
    """A walk in which the first side was cut wrong and its end was mended."""
    walker = walk(two_tails(tolerance_mm=0.2) if made is None else made)
    found = marks(judge(walker, FIRST, mistake, off_mm, plain))
    situation = walker.situation()
    return Walker(mend(situation, 1, End.A, found, mended_settings(situation, 1, End.A, found)))


def test_what_is_said_of_a_cut_again_takes_the_place_of_what_was_said_before() -> None:
    found = judge(mended(Mistake.OFF_LINE, 0.6), FIRST, Mistake.OFF_LINE, 0.9, plain)
    assert marks(found).top_marks_mm == pytest.approx((5.9, 30.5))
    assert found.lines[0] == "tail 1: 20.600 wide at the end instead of 21.500"


def test_a_cut_said_to_be_right_after_all_is_within_tolerance() -> None:
    assert judge(mended(Mistake.OFF_LINE, 0.6), FIRST, Mistake.OFF_LINE, 0.1, plain).verdict is Verdict.WITHIN


def test_the_other_side_that_made_up_for_a_cut_goes_back_with_it() -> None:
    walker = mended(Mistake.OFF_LINE, 6.0, made=one_end(NARROW, width_mm=20.0))
    found = judge(walker, FIRST, Mistake.OFF_LINE, 1.0, plain)
    assert marks(found).top_marks_mm == pytest.approx((6.0,))
    assert marks(found).bottom_marks_mm == pytest.approx((5.0,))


def test_a_deeper_baseline_stays_when_a_mark_moves_as_well() -> None:
    found = marks(judge(mended(Mistake.TOO_DEEP, 0.5), FIRST, Mistake.OFF_LINE, 0.6, plain))
    assert found.tail_length_mm == pytest.approx(12.5)
    assert found.top_marks_mm == pytest.approx((5.6, 30.5))


def test_a_socket_long_cut_that_a_wider_blade_wouldnt_fit_doesnt_spoil_the_board() -> None:
    narrow = joint((5.0, 29.0))  # a socket of 2·29 − 57 mm in the middle
    whole = [Side(1, End.A, tail, faces) for tail in (1, 2) for faces in Edge]
    then = walk(one_end(narrow, width_mm=57.0), whole)
    now = Walker(replace(then.situation(), job=replace(then.job, shop=shop(kerf_mm=1.4))))
    found = judge(now, FIRST, Mistake.OFF_LINE, 0.6, plain, then)
    assert marks(found).top_marks_mm == pytest.approx((5.6, 29.0))
