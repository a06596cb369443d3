"""Settings are the fewest, on graduations where that costs none more, and within tolerance: against other methods."""

from __future__ import annotations

import math
from itertools import combinations, pairwise
from typing import Any

import networkx as nx
import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from support.layout_texts import LayoutText, ShopText, batches

from coach.ground.terms import Edge
from coach.joint.files import parse_layout
from coach.plan.deciding.decide import decide
from coach.plan.deciding.stabbing import fewest_points, nearest
from coach.plan.intervals import Grid, Interval
from coach.plan.job import Job, make_job
from coach.plan.reach import shift_mm
from coach.shop.files import parse_shop

EXACT = 1e-7
QUICK = settings(
    max_examples=300,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
BATCHES = settings(QUICK, max_examples=100)

Span = tuple[float, float]


@st.composite
def intervals(draw: st.DrawFn) -> Interval:
    """An interval between multiples of a quarter."""
    low = draw(st.integers(0, 40))
    ideal = low + draw(st.integers(0, 6))
    return Interval(low / 4, ideal / 4, (ideal + draw(st.integers(0, 6))) / 4)


several = st.lists(intervals(), min_size=1, max_size=6)
many = st.lists(intervals(), min_size=1, max_size=25)
grids = st.builds(Grid, st.sampled_from((0.0, 0.25, -0.125)), st.sampled_from((1.0, 1.5)))


def greedy_count(spans: list[Span]) -> int:
    """The greedy rule by right end: a point at the first right end, and on from what it doesn't meet."""
    count, last = 0, -math.inf
    for low, high in sorted(spans, key=lambda span: span[1]):
        if low > last + EXACT / 100:
            count, last = count + 1, high
    return count


def most_disjoint(spans: list[Span]) -> int:
    """The largest number of pairwise disjoint spans: a largest clique of the graph that joins disjoint spans."""
    graph: nx.Graph[Any] = nx.Graph()
    graph.add_nodes_from(range(len(spans)))
    for a, b in combinations(range(len(spans)), 2):
        if spans[a][1] < spans[b][0] - EXACT / 100 or spans[b][1] < spans[a][0] - EXACT / 100:
            graph.add_edge(a, b)
    clique, _ = nx.max_weight_clique(graph, weight=None)
    return len(clique)


def met(wants: list[Interval], points: tuple[float, ...]) -> bool:
    return all(any(want.low <= point <= want.high for point in points) for want in wants)


def least_cost(wants: list[Interval], grid: Grid) -> tuple[int, int, float]:
    """Points, points off the grid and sum of squared shifts of the best set, by trying all sets of candidates."""
    on_grid = {grid.start + n * grid.step for n in range(-2, 20)}
    candidates = sorted({at for want in wants for at in (want.low, want.ideal, want.high)} | on_grid)
    for count in range(1, len(wants) + 1):
        costs = [
            (
                count,
                sum(point not in on_grid for point in points),
                sum(
                    min((point - want.ideal) ** 2 for point in points if want.low <= point <= want.high)
                    for want in set(wants)
                ),
            )
            for points in combinations(candidates, count)
            if met(wants, points)
        ]
        if costs:
            return min(costs)
    raise AssertionError("a point for each interval meets all")


@given(many)
@QUICK
def test_there_are_as_many_points_as_pairwise_disjoint_intervals(wants: list[Interval]) -> None:
    # No set can be smaller: pairwise disjoint intervals need a point each. That the optimum reaches it: Erickson,
    # Algorithms (from memory).
    assert len(fewest_points(wants, None)) == most_disjoint([(want.low, want.high) for want in wants])


@given(many, grids)
@QUICK
def test_there_are_as_many_points_as_the_greedy_rule_finds(wants: list[Interval], grid: Grid) -> None:
    # Greedy by right end is exact: Erickson, Algorithms (from memory).
    assert len(fewest_points(wants, grid)) == greedy_count([(want.low, want.high) for want in wants])


@given(many, grids)
@QUICK
def test_every_interval_is_served_by_the_nearest_point_that_it_holds(wants: list[Interval], grid: Grid) -> None:
    points = fewest_points(wants, grid)
    assert points == sorted(points)
    for want in wants:
        held = [point for point in points if want.low <= point <= want.high]
        serving = points[nearest(want, points)]
        assert abs(serving - want.ideal) == min(abs(point - want.ideal) for point in held)


@given(several.filter(lambda wants: greedy_count([(w.low, w.high) for w in wants]) <= 3), grids)
@QUICK
def test_points_grid_and_shift_are_the_best_that_trying_all_finds(wants: list[Interval], grid: Grid) -> None:
    points = fewest_points(wants, grid)
    off = sum(not grid.has(point) for point in points)
    shift = sum((points[nearest(want, points)] - want.ideal) ** 2 for want in set(wants))
    *fewest, least_shift = least_cost(wants, grid)
    assert [len(points), off] == fewest
    assert shift == pytest.approx(least_shift)


def made(batch: tuple[ShopText, list[LayoutText]]) -> Job:
    shop_text, layouts = batch
    shop = parse_shop("shop.toml", shop_text.text)
    return make_job([parse_layout(f"layout {n}", layout.text) for n, layout in enumerate(layouts)], shop)


def allowed_marks(job: Job, number: int) -> dict[tuple[object, ...], Span]:
    """For each side of a pattern, between which marks from the edge at the jig it may be cut, along the end."""
    pattern = job.patterns[number]
    jig, width = job.shop.jig, pattern.part.width_mm
    kerf_along = job.shop.saw.kerf_mm / math.cos(jig.slope)
    spans: dict[tuple[object, ...], Span] = {}
    for end, joint in pattern.ends.items():
        sockets = joint.socket_widths_mm(width)
        for tail in range(1, joint.tails + 1):
            for faces in Edge:
                socket = sockets[tail - 1 if faces is Edge.TOP else tail]
                into_socket = min(job.tolerance_mm(pattern), (socket - kerf_along) / 2)
                mark = joint.mark_mm(tail, faces)
                low, high = mark - into_socket, mark + job.tolerance_mm(pattern)
                spans[end, tail, faces] = (low, high) if jig.wide_leads else (width - high, width - low)
    return spans


@given(batches())
@BATCHES
def test_a_batch_has_as_many_settings_as_sides_that_can_share_none(batch: tuple[ShopText, list[LayoutText]]) -> None:
    job = made(batch)
    spans = sorted({span for number in range(len(job.patterns)) for span in allowed_marks(job, number).values()})
    found = decide(job)
    assert len(found.fence_mm) == greedy_count(spans)
    event(f"{len(found.fence_mm)} settings of {len(spans)} spans")
    if len(spans) <= 40:
        assert len(found.fence_mm) == most_disjoint(spans)


@given(batches())
@BATCHES
def test_no_side_shifts_beyond_tolerance_or_by_more_than_half_of_what_its_socket_has_over_the_kerf(
    batch: tuple[ShopText, list[LayoutText]],
) -> None:
    job = made(batch)
    found = decide(job)
    kerf_along = job.shop.saw.kerf_mm / math.cos(job.shop.jig.slope)
    for pattern, serving in zip(job.patterns, found.serves, strict=True):
        assert set(serving) == set(pattern.sides())
        for (end, tail, faces), setting in serving.items():
            narrower = shift_mm(job, pattern, (end, tail, faces), found.fence_mm[setting])
            socket = pattern.ends[end].socket_widths_mm(pattern.part.width_mm)[tail - 1 if faces is Edge.TOP else tail]
            assert abs(narrower) <= job.tolerance_mm(pattern) + EXACT
            assert -narrower <= (socket - kerf_along) / 2 + EXACT


@given(batches())
@BATCHES
def test_a_setting_is_off_the_scale_only_where_no_graduation_serves_all_its_sides(
    batch: tuple[ShopText, list[LayoutText]],
) -> None:
    job = made(batch)
    fence, jig = job.shop.fence, job.shop.jig
    found = decide(job)
    if fence.graduation is None:
        return
    step = float(fence.graduation.step_mm)
    served: dict[int, list[Span]] = {}
    for number, serving in enumerate(found.serves):
        spans = allowed_marks(job, number)
        for side, setting in serving.items():
            served.setdefault(setting, []).append(spans[side])
    kerf = job.shop.saw.kerf_mm if jig.wide_leads else 0.0
    for setting, spans_served in served.items():
        reading = found.fence_mm[setting] + fence.zero_mm
        if abs(reading / step - round(reading / step)) * step < EXACT:
            continue
        low = max(low for low, _ in spans_served) * math.cos(jig.slope) + jig.leading_width_mm - kerf + fence.zero_mm
        high = min(high for _, high in spans_served) * math.cos(jig.slope) + jig.leading_width_mm - kerf + fence.zero_mm
        assert math.floor(high / step - EXACT) < math.ceil(low / step + EXACT)


@given(batches())
@BATCHES
def test_settings_go_from_the_largest_fence_distance_to_the_smallest(batch: tuple[ShopText, list[LayoutText]]) -> None:
    fences = decide(made(batch)).fence_mm
    assert all(later < earlier for earlier, later in pairwise(fences))
