"""What is said about a plan being the least work holds: against cliques and shortest paths of a general library."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

import networkx as nx
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.layout_texts import LayoutText, ShopText, batches
from support.small_jobs import job as small_job
from support.small_jobs import joint, part, plain, shop, two_tails

from coach.ground.terms import Edge, End, Lie, Turn
from coach.joint.files import parse_layout
from coach.plan.deciding.decide import decide
from coach.plan.helping.totals import Cost, Totals
from coach.plan.helping.why import (
    counting_bound,
    end_shifts,
    least_cost,
    proves_fewest,
    turns_proofs,
    witnesses,
)
from coach.plan.job import Job, make_job
from coach.plan.reach import fence_interval
from coach.plan.steps import Step, StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.turns import LIES, Stage, TurnCosts, route
from coach.plan.walking.walker import plan
from coach.shop.files import parse_shop
from coach.shop.tools import Handling

CHECKED = settings(
    max_examples=300,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
BATCHES = settings(CHECKED, max_examples=60)

stages_of = st.lists(st.frozensets(st.sampled_from(LIES), min_size=1, max_size=4), min_size=1, max_size=5)
prices = st.integers(0, 9) | st.integers(0, 1_000_000)
costs_of = st.builds(TurnCosts, prices, prices, prices)
Node = tuple[int, Lie | None, Stage]


def made(batch: tuple[ShopText, list[LayoutText]], handling: Handling | None = None) -> Job:
    shop_text, layouts = batch
    tools = replace(parse_shop("shop.toml", shop_text.text), handling=handling or Handling())
    return make_job([parse_layout(f"layout {n}", layout.text) for n, layout in enumerate(layouts)], tools)


def steps_of(found: Job) -> list[Step]:
    return list(plan(beginning(found, decide(found))))


@given(batches())
@BATCHES
def test_there_is_a_side_for_each_setting_and_no_two_of_them_could_share_one(
    batch: tuple[ShopText, list[LayoutText]],
) -> None:
    found = made(batch)
    decided = decide(found)
    sides = witnesses(found, decided)
    assert proves_fewest(sides, decided)
    assert [side.setting for side in sides] == list(range(len(decided.fence_mm)))
    for one, other in combinations([side.allowed for side in sides], 2):
        assert one.high < other.low or other.high < one.low


@given(batches())
@BATCHES
def test_no_more_sides_than_the_certificate_has_need_settings_of_their_own(
    batch: tuple[ShopText, list[LayoutText]],
) -> None:
    # The largest clique of the graph of ranges that are disjoint, found by networkx.
    found = made(batch)
    ranges = list({fence_interval(found, pattern, side) for pattern in found.patterns for side in pattern.sides()})
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(ranges)))
    graph.add_edges_from(
        (one, other)
        for one, other in combinations(range(len(ranges)), 2)
        if ranges[one].high + 1e-8 < ranges[other].low or ranges[other].high + 1e-8 < ranges[one].low
    )
    clique, _ = nx.max_weight_clique(graph, weight=None)
    assert len(witnesses(found, decide(found))) == len(clique)


def shortest(stages: Sequence[Stage], costs: TurnCosts, weight: Any = "cost") -> int:
    """The length of the shortest path over (stage, how it lies, what is done of the stage)."""
    graph: nx.DiGraph[Node] = nx.DiGraph()
    start: Node = (0, None, frozenset())
    waiting, known = [start], {start}
    while waiting:
        node = waiting.pop()
        stage, lie, done = node
        if stage == len(stages):
            continue
        for to in stages[stage] - done:
            visited = done | {to}
            complete = visited == stages[stage]
            following: Node = (stage + 1, to, frozenset()) if complete else (stage, to, visited)
            turn = None if lie is None else lie.turn_to(to)
            cost = 0 if turn is None else costs[list(Turn).index(turn)]
            swing = turn in (Turn.END_FOR_END, Turn.END_OVER_END)
            graph.add_edge(node, following, cost=cost, count=int(turn is not None), swing=int(swing))
            if following not in known:
                known.add(following)
                waiting.append(following)
    lengths = nx.single_source_dijkstra_path_length(graph, start, weight=weight)
    return int(min(length for (stage, _, _), length in lengths.items() if stage == len(stages)))


@given(stages_of, costs_of)
@CHECKED
def test_the_least_cost_of_turning_is_that_of_a_shortest_path(stages: list[Stage], costs: TurnCosts) -> None:
    assert least_cost(stages, costs) == shortest(stages, costs) == route(None, stages, costs)[0]


@given(stages_of, costs_of)
@CHECKED
def test_counting_never_says_more_than_must_be(stages: list[Stage], costs: TurnCosts) -> None:
    turns, swings, cost = counting_bound(stages, costs)
    assert turns <= shortest(stages, costs, "count")
    assert swings <= shortest(stages, costs, "swing")
    assert cost <= shortest(stages, costs)


@given(batches(), st.builds(Handling, *[prices] * 7))
@BATCHES
def test_every_plan_meets_the_bound_of_its_turns(batch: tuple[ShopText, list[LayoutText]], handling: Handling) -> None:
    found = made(batch, handling)
    steps = steps_of(found)
    proofs = turns_proofs(found, decide(found), steps)
    assert sum(proof.boards for proof in proofs) == len(found.boards)
    assert all(proof.spent_ms == proof.least_ms >= proof.counted_ms for proof in proofs)
    assert sum(proof.boards * proof.spent_ms for proof in proofs) == Cost.of(found, steps).turns_ms
    counted: dict[Turn, int] = {turn: sum(proof.boards * proof.turns[turn] for proof in proofs) for turn in Turn}
    assert counted == {turn: Totals.of(steps).turns[turn] for turn in Turn}


@given(batches())
@BATCHES
def test_shifts_come_to_what_tails_and_sockets_change(batch: tuple[ShopText, list[LayoutText]]) -> None:
    # What all tails and sockets of an end change by is nothing: the board stays as wide as it was.
    for shifts in end_shifts(made(batch), decide(made(batch))):
        assert abs(sum(shifts.tails) + sum(shifts.sockets)) < 1e-9


def test_the_sides_of_two_even_tails_need_two_settings() -> None:
    # By hand: marks of 5 and 30.5 mm lie further apart than 0.2 mm each way.
    found = two_tails(tolerance_mm=0.2)
    sides = witnesses(found, decide(found))
    assert [side.mark_mm for side in sides] == [30.5, 5.0]


def test_four_cuts_at_each_of_two_settings_take_six_turns_by_counting_and_by_search() -> None:
    # By hand: at each setting four lies take three turns, one of them to the other end; the costs are 2 and 3 s, with
    # 0.76 s more for each swing of a board 380 mm long.
    found = two_tails(boards=2)
    (proof,) = turns_proofs(found, decide(found), steps_of(found))
    assert (proof.boards, proof.counted, proof.counted_swings) == (2, 6, 2)
    assert proof.spent_ms == proof.least_ms == proof.counted_ms == 4 * 2000 + 2 * 3760


def test_rounding_shifts_both_sides_of_a_tail_so_the_tail_changes_twice() -> None:
    # By hand: one tail between marks of 5 mm; F = 80 + 5·cos θ − 0.9 = 84.0614 mm goes to 84 mm on a scale of 1 mm, so
    # each mark shifts by −0.0614/0.99228 = −0.0619 mm and the tail is 0.1237 mm wider.
    end = joint((5.0,))
    found = small_job([part({End.A: end})], shop(graduation_mm="1"))
    (shifts,) = end_shifts(found, decide(found))
    assert [plain(shift) for shift in shifts.marks.values()] == ["-0.062", "-0.062"]
    assert [plain(wider) for wider in shifts.tails] == ["0.124"]
    assert [plain(wider) for wider in shifts.sockets] == ["-0.062", "-0.062"]
    assert list(shifts.marks) == [(1, Edge.TOP), (1, Edge.BOTTOM)]


def test_what_handling_costs_is_what_its_parts_cost() -> None:
    # By hand: two boards with two tails at both ends: 2 settings, 4 pick-ups, 8 + 4 turns, 16 cuts.
    handling = Handling(100, 10, 1, 2, 3, 1000, 20)
    found = two_tails(replace(shop(), handling=handling), boards=2)
    cost = Cost.of(found, steps_of(found))
    assert (cost.fence_ms, cost.pick_up_ms, cost.switch_off_ms) == (200, 40, 16 * 20)
    assert cost.turns_ms == 8 * 1 + 4 * (2 + 380)
    assert cost.total_ms == 200 + 40 + 320 + 8 + 4 * 382


def test_a_saw_that_is_not_stopped_between_cuts_costs_no_switching_off() -> None:
    tools = shop()
    found = two_tails(replace(tools, saw=replace(tools.saw, backing_out="as trained")))
    assert Cost.of(found, steps_of(found)).switch_off_ms == 0
    assert any(step.kind is StepKind.CUT for step in steps_of(found))
