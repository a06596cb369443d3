"""The fewest points that meet all intervals, against a published instance and examples worked by hand."""

from __future__ import annotations

import pytest

from coach.plan.deciding.stabbing import fewest_points, nearest
from coach.plan.intervals import Grid, Interval


def between(low: float, high: float) -> Interval:
    return Interval(low, (low + high) / 2, high)


def test_the_published_instance_needs_two_points() -> None:
    # (0, 10), (3, 12), (11, 15): greedy by right end gives {10, 15}; greedy choice by right end as in Erickson,
    # Algorithms (from memory).
    found = fewest_points([between(0, 10), between(3, 12), between(11, 15)], None)
    assert len(found) == 2


def test_the_published_points_come_out_where_they_are_the_ideals() -> None:
    # The same instance; wood is best cut at 10 and 15 here.
    found = fewest_points([Interval(0, 10, 10), Interval(3, 10, 12), Interval(11, 15, 15)], None)
    assert found == [10, 15]


def test_no_intervals_need_no_points() -> None:
    assert fewest_points([], Grid(0.0, 1.0)) == []


def test_intervals_of_no_width_need_a_point_each() -> None:
    assert fewest_points([Interval(p, p, p) for p in (3.0, 1.0, 2.0)], None) == [1.0, 2.0, 3.0]


def test_equal_intervals_need_one_point_together_and_get_their_ideal() -> None:
    assert fewest_points([Interval(1.0, 1.6, 2.0)] * 5, None) == [1.6]


def test_intervals_that_touch_share_the_point_where_they_touch() -> None:
    assert fewest_points([between(0, 1), between(1, 2)], None) == [1]


def test_a_point_moves_to_the_grid_where_that_costs_none_more() -> None:
    assert fewest_points([Interval(0.6, 1.1, 1.6), Interval(0.8, 1.3, 1.8)], Grid(0.0, 0.5)) in ([1.0], [1.5])


def test_no_second_point_is_spent_on_the_grid() -> None:
    # One point serves both, between 1.1 and 1.4, where no graduation is; two could both stand on one.
    found = fewest_points([Interval(0.9, 1.2, 1.4), Interval(1.1, 1.3, 2.1)], Grid(0.0, 1.0))
    assert len(found) == 1
    assert 1.1 <= found[0] <= 1.4


def test_two_points_go_to_the_grid_even_if_the_shift_grows() -> None:
    found = fewest_points([Interval(0.7, 1.2, 1.3), Interval(4.7, 4.8, 5.3)], Grid(0.0, 1.0))
    assert found == [1.0, 5.0]


def test_a_grid_starts_where_it_is_told_to() -> None:
    assert Grid(-0.3, 1.0).within(0.0, 3.0) == pytest.approx([0.7, 1.7, 2.7])


def test_a_grid_has_its_points_and_no_others() -> None:
    grid = Grid(0.1, 25.4 / 32)
    assert grid.has(0.1 + 7 * 25.4 / 32)
    assert not grid.has(0.1 + 7.01 * 25.4 / 32)


def test_of_two_points_within_reach_the_nearer_serves() -> None:
    assert nearest(Interval(0.0, 1.2, 3.0), [0.5, 1.5, 4.0]) == 1


def test_a_point_out_of_reach_never_serves_even_if_it_is_nearer() -> None:
    assert nearest(Interval(0.0, 1.0, 1.1), [0.2, 1.15]) == 0
