"""Where the fence stands for a mark, and what a fence setting cuts, against examples worked by hand."""

from __future__ import annotations

import math
from itertools import product

import pytest
from support.small_jobs import joint, shop, two_tails

from coach.ground.lengths import parse_slope
from coach.ground.terms import Edge, End, Face, Hand, Lie
from coach.plan.geometry import (
    cut_length_mm,
    fence_for_mark_mm,
    kerf_span_mm,
    lie_for,
    mark_at_fence_mm,
    mark_from_jig_mm,
)
from coach.plan.reach import shift_mm

# Worked by hand for a slope of 1:8: the hypotenuse of 8 and 1 is √65, so cos = 8/√65, sin = 1/√65, tan = 1/8.
COSINE = 8 / math.sqrt(65)
SINE = 1 / math.sqrt(65)
WIDE = shop(leading_width_mm=80.0).jig
NARROW = shop(leading_width_mm=40.0, wide_leads=False).jig
KERF = 0.9

Vector = tuple[int, int, int]


@pytest.mark.parametrize(
    ("text", "degrees"),
    # Arctangents, computed by two independent methods.
    [("1:8", 7.125016), ("1:6", 9.462322), ("1:5", 11.309932), ("1:7", 8.130102), ("1:4", 14.036243)],
)
def test_a_slope_as_a_ratio_is_its_arctangent(text: str, degrees: float) -> None:
    assert math.degrees(parse_slope(text)) == pytest.approx(degrees, abs=5e-7)


@pytest.mark.parametrize(
    ("text", "along"),
    # Cotangents, computed by two independent methods.
    [("7 deg", 8.14435), ("8 deg", 7.11537), ("14 deg", 4.01078)],
)
def test_a_slope_in_degrees_is_the_ratio_that_it_comes_to(text: str, along: float) -> None:
    assert 1 / math.tan(parse_slope(text)) == pytest.approx(along, abs=5e-6)


def test_the_fence_of_a_wide_leading_jig_stands_a_kerf_nearer_than_jig_and_slanted_mark() -> None:
    # By hand: 80 + 100 · 8/√65 − 0.9 = 80 + 99.2278 − 0.9.
    assert fence_for_mark_mm(WIDE, KERF, 100.0) == pytest.approx(178.3278, abs=5e-5)


def test_the_fence_of_a_narrow_leading_jig_leaves_the_kerf_out() -> None:
    # By hand: 40 + 100 · 8/√65 = 40 + 99.2278.
    assert fence_for_mark_mm(NARROW, KERF, 100.0) == pytest.approx(139.2278, abs=5e-5)


def test_taking_a_mark_of_100_mm_as_it_stands_is_wrong_by_eight_tenths() -> None:
    right = fence_for_mark_mm(WIDE, KERF, 100.0)
    assert 80.0 + 100.0 - KERF - right == pytest.approx(0.8, abs=0.05)


def test_a_mark_of_nothing_puts_the_kerf_wholly_into_the_jig() -> None:
    assert fence_for_mark_mm(WIDE, KERF, 0.0) == pytest.approx(79.1)


def test_from_mark_to_mark_the_fence_moves_by_their_distance_times_the_cosine() -> None:
    moved = fence_for_mark_mm(WIDE, KERF, 31.0) - fence_for_mark_mm(WIDE, KERF, 5.0)
    assert moved == pytest.approx(26.0 * COSINE)


@pytest.mark.parametrize("jig", [WIDE, NARROW], ids=["wide leads", "narrow leads"])
def test_a_fence_setting_cuts_at_the_mark_that_it_was_made_for(jig: object) -> None:
    tools = WIDE if jig is WIDE else NARROW
    assert mark_at_fence_mm(tools, KERF, fence_for_mark_mm(tools, KERF, 37.25)) == pytest.approx(37.25)


def test_at_the_end_the_kerf_of_a_wide_leading_jig_lies_between_edge_and_mark() -> None:
    span = kerf_span_mm(WIDE, KERF, fence_for_mark_mm(WIDE, KERF, 20.0), 0.0)
    # By hand: 0.9 · √65/8 = 0.9070.
    assert span == pytest.approx((19.0930, 20.0), abs=5e-5)


def test_at_the_baseline_the_kerf_of_a_wide_leading_jig_is_an_eighth_of_the_way_further_from_the_edge() -> None:
    span = kerf_span_mm(WIDE, KERF, fence_for_mark_mm(WIDE, KERF, 20.0), 12.0)
    # By hand: 12 along at 1:8 are 1.5 across.
    assert span == pytest.approx((20.5930, 21.5), abs=5e-5)


def test_at_the_end_the_kerf_of_a_narrow_leading_jig_lies_beyond_the_mark() -> None:
    span = kerf_span_mm(NARROW, KERF, fence_for_mark_mm(NARROW, KERF, 20.0), 0.0)
    assert span == pytest.approx((20.0, 20.9070), abs=5e-5)


def test_at_the_baseline_the_kerf_of_a_narrow_leading_jig_is_an_eighth_of_the_way_nearer_to_the_edge() -> None:
    span = kerf_span_mm(NARROW, KERF, fence_for_mark_mm(NARROW, KERF, 20.0), 12.0)
    assert span == pytest.approx((18.5, 19.4070), abs=5e-5)


def test_every_point_of_the_side_lies_on_the_kerf_far_side_when_the_board_is_drawn_on_the_table() -> None:
    # The board is turned by the slope about the corner at the stop, as a drawing would have it, and pushed along y.
    fence = fence_for_mark_mm(WIDE, KERF, 20.0)
    for along in (0.0, 6.0, 12.0):
        across = 20.0 + along / 8
        x = fence - 80.0 - across * COSINE + along * SINE
        assert x == pytest.approx(-KERF)


def test_the_cut_is_the_tail_length_over_the_cosine_long() -> None:
    # By hand: 12 · √65/8.
    assert cut_length_mm(WIDE, 12.0) == pytest.approx(12.0934, abs=5e-5)


def test_a_wide_leading_jig_cuts_the_sides_that_face_the_edge_at_the_jig() -> None:
    assert [lie_for(WIDE, End.A, faces) for faces in Edge] == [Lie(End.A, Edge.TOP), Lie(End.A, Edge.BOTTOM)]


def test_a_narrow_leading_jig_cuts_the_sides_that_face_away_from_it() -> None:
    assert [lie_for(NARROW, End.B, faces) for faces in Edge] == [Lie(End.B, Edge.BOTTOM), Lie(End.B, Edge.TOP)]


def test_marks_on_a_narrow_leading_jig_are_measured_from_the_other_edge() -> None:
    end = joint((5.0, 31.0), (6.0, 30.0))
    # The upper tail's lower side is 30 mm from the bottom edge of a board of 57 mm.
    assert mark_from_jig_mm(WIDE, end, 57.0, 1, Edge.BOTTOM) == 30.0
    assert mark_from_jig_mm(NARROW, end, 57.0, 1, Edge.BOTTOM) == 27.0


@pytest.mark.parametrize("wide_leads", [True, False])
def test_a_fence_that_stands_further_off_makes_the_waste_grow_on_one_jig_and_shrink_on_the_other(
    wide_leads: bool,
) -> None:
    job = two_tails(shop(wide_leads=wide_leads))
    pattern = job.patterns[0]
    side = (End.A, 1, Edge.TOP)
    jig = job.shop.jig
    mark = mark_from_jig_mm(jig, pattern.ends[End.A], 57.0, 1, Edge.TOP)
    shifted = shift_mm(job, pattern, side, fence_for_mark_mm(jig, KERF, mark) + 0.2)
    # By hand: 0.2 · √65/8; two such sides make a tail twice that narrower.
    assert shifted == pytest.approx(0.20156 if wide_leads else -0.20156, abs=5e-6)


def test_tails_and_sockets_of_a_board_are_what_is_left_between_the_marks() -> None:
    end = joint((5.0, 31.0), (6.0, 30.0))
    assert end.tail_widths_mm(57.0) == pytest.approx([22.0, 20.0])
    assert end.socket_widths_mm(57.0) == pytest.approx([5.0, 4.0, 6.0])


def test_at_the_baseline_a_tail_is_narrower_by_twice_its_length_times_the_slope() -> None:
    end = joint((5.0, 31.0), (6.0, 30.0))
    # By hand: 2 · 12/8 = 3.
    assert end.tail_widths_mm(57.0, 12.0, math.atan(1 / 8)) == pytest.approx([19.0, 17.0])


def test_on_a_board_too_wide_tails_grow_inner_sockets_shrink_and_half_pin_sockets_stay() -> None:
    # Each edge bears on the jig in turn, so the marks keep their distance from their own edges.
    end = joint((5.0, 31.0), (6.0, 30.0))
    assert end.tail_widths_mm(57.5) == pytest.approx([22.5, 20.5])
    assert end.socket_widths_mm(57.5) == pytest.approx([5.0, 3.5, 6.0])


def cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def drawn_face_up(lie: Lie, fence_side: Hand) -> Face:
    """The face that looks up, from how the board's axes come to lie on the table: x right, y away, z up.

    The board's own axes, as one looks at the outside face with the top edge up: length to the right (A to B), width up
    (bottom to top), and the outside face's normal towards the eye. That is a right-handed system and stays one.
    """
    leads: Vector = (0, 1, 0)
    to_jig: Vector = (1, 0, 0) if fence_side is Hand.RIGHT else (-1, 0, 0)
    from_a_to_b = leads if lie.end is End.B else (0, -1, 0)
    from_bottom_to_top: Vector = to_jig if lie.edge is Edge.TOP else (-to_jig[0], 0, 0)
    outside = cross(from_a_to_b, from_bottom_to_top)
    return Face.OUTSIDE if outside == (0, 0, 1) else Face.INSIDE


@pytest.mark.parametrize(("end", "edge", "side"), list(product(End, Edge, Hand)))
def test_the_face_that_looks_up_is_the_one_that_rotation_brings_there(end: End, edge: Edge, side: Hand) -> None:
    assert Lie(end, edge).face_up(side) is drawn_face_up(Lie(end, edge), side)


def test_with_the_fence_at_the_right_the_outside_looks_up_where_end_and_edge_are_the_first_or_the_second() -> None:
    up = [Lie(end, edge) for end, edge in product(End, Edge) if Lie(end, edge).face_up(Hand.RIGHT) is Face.OUTSIDE]
    assert up == [Lie(End.A, Edge.TOP), Lie(End.B, Edge.BOTTOM)]


def test_a_fence_at_the_left_reverses_every_face() -> None:
    for end, edge in product(End, Edge):
        assert Lie(end, edge).face_up(Hand.LEFT) is Lie(end, edge).face_up(Hand.RIGHT).other
