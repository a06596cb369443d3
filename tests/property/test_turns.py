"""Turns are the half-turns of a board, and boards are turned at the least cost: against matrices and exact search."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, permutations, product
from typing import Any

import networkx as nx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.layout_texts import LayoutText, ShopText, batches

from coach.ground.terms import Edge, End, Face, Hand, Lie, Turn
from coach.joint.files import parse_layout
from coach.plan.deciding.decide import decide
from coach.plan.geometry import lie_for
from coach.plan.job import make_job
from coach.plan.steps import StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.turns import LIES, Stage, TurnCosts, route, turn_costs
from coach.plan.walking.walker import plan
from coach.shop.files import parse_shop
from coach.shop.tools import Handling

# Half-turns of a board about its length, its thickness and its width, as diagonal matrices in the board's own axes
# (length, width, thickness). That any two make the third is a fact of rotation.
HALF_TURNS = {
    None: (1, 1, 1),
    Turn.EDGE_FOR_EDGE: (1, -1, -1),
    Turn.END_FOR_END: (-1, -1, 1),
    Turn.END_OVER_END: (-1, 1, -1),
}
CHECKED = settings(
    max_examples=300,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
BATCHES = settings(CHECKED, max_examples=60)

lies = st.sampled_from(LIES)
stages_of = st.lists(st.frozensets(lies, max_size=4), max_size=5)
prices = st.integers(0, 9) | st.integers(0, 1_000_000)  # small ones are often equal, so that many routes cost the same
costs_of = st.builds(TurnCosts, prices, prices, prices)
USUAL = turn_costs(Handling(), 0)
Node = tuple[Any, ...]


def axes(lie: Lie, side: Hand) -> tuple[int, int, int]:
    """Whether the end that leads is B, the edge at the jig the top one, and the face up the outside: 1 or -1 each."""
    return (
        1 if lie.end is End.B else -1,
        1 if lie.edge is Edge.TOP else -1,
        1 if lie.face_up(side) is Face.OUTSIDE else -1,
    )


@pytest.mark.parametrize(("lie", "turn", "side"), list(product(LIES, HALF_TURNS, Hand)))
def test_a_turn_changes_end_edge_and_face_as_its_half_turn_does(lie: Lie, turn: Turn | None, side: Hand) -> None:
    before, after = axes(lie, side), axes(lie.turned(turn), side)
    assert tuple(b * sign for b, sign in zip(before, HALF_TURNS[turn], strict=True)) == after


@pytest.mark.parametrize(("lie", "turn"), list(product(LIES, Turn)))
def test_a_turn_done_twice_is_undone(lie: Lie, turn: Turn) -> None:
    assert lie.turned(turn).turned(turn) == lie


@pytest.mark.parametrize(("lie", "pair"), list(product(LIES, permutations(Turn, 2))))
def test_any_two_turns_make_the_third(lie: Lie, pair: tuple[Turn, Turn]) -> None:
    first, second = pair
    (third,) = set(Turn) - set(pair)
    assert lie.turned(first).turned(second) == lie.turned(third)


@pytest.mark.parametrize(("lie", "other"), list(product(LIES, LIES)))
def test_there_is_exactly_one_turn_from_any_lie_to_any_other(lie: Lie, other: Lie) -> None:
    assert [turn for turn in HALF_TURNS if lie.turned(turn) == other] == [lie.turn_to(other)]


def cost_of(lie: Lie, other: Lie, costs: TurnCosts) -> int:
    turn = lie.turn_to(other)
    return 0 if turn is None else costs[list(Turn).index(turn)]


def searched_cost(start: Lie | None, stages: Sequence[Stage], costs: TurnCosts) -> int:
    """The least cost of turning through all stages: a shortest path over (how it lies, stage, what of it is done)."""
    graph: nx.DiGraph[Node] = nx.DiGraph()
    nodes: list[Node] = [(start, 0, frozenset())]
    known = set(nodes)
    ends = []
    while nodes:
        node = nodes.pop()
        lie, stage, visited = node
        if stage == len(stages):
            ends.append(node)
            continue
        following: list[tuple[Node, int]]
        if visited == stages[stage]:
            following = [((lie, stage + 1, frozenset()), 0)]
        else:
            following = [
                ((to, stage, visited | {to}), 0 if lie is None else cost_of(lie, to, costs))
                for to in stages[stage] - visited
            ]
        for to, cost in following:
            graph.add_edge(node, to, cost=cost)
            if to not in known:
                known.add(to)
                nodes.append(to)
    if not stages:
        return 0
    lengths = nx.single_source_dijkstra_path_length(graph, (start, 0, frozenset()), weight="cost")
    return int(min(lengths[end] for end in ends))


@given(st.none() | lies, stages_of, costs_of)
@CHECKED
def test_a_route_costs_what_an_exact_search_finds(lie: Lie | None, stages: list[Stage], costs: TurnCosts) -> None:
    assert route(lie, stages, costs)[0] == searched_cost(lie, stages, costs)


@given(st.none() | lies, stages_of, costs_of)
@CHECKED
def test_a_route_goes_through_all_of_its_first_stage(lie: Lie | None, stages: list[Stage], costs: TurnCosts) -> None:
    first: Stage = next((stage for stage in stages if stage), frozenset())
    order = route(lie, stages, costs)[1]
    assert len(order) == len(first)
    assert set(order) == first


@given(st.none() | lies, stages_of, costs_of)
@CHECKED
def test_the_rest_of_a_route_is_the_route_of_the_rest(lie: Lie | None, stages: list[Stage], costs: TurnCosts) -> None:
    todo = [stage for stage in stages if stage]
    while todo:
        cost, order = route(lie, todo, costs)
        rest_cost, rest = route(order[0], [todo[0] - {order[0]}, *todo[1:]], costs)
        assert cost == rest_cost + (0 if lie is None else cost_of(lie, order[0], costs))
        assert rest == order[1:] or len(order) == 1
        lie = order[0]
        todo = [stage for stage in [todo[0] - {lie}, *todo[1:]] if stage]


def test_a_stage_with_nothing_left_is_passed_over() -> None:
    here, there = Lie(End.A, Edge.TOP), Lie(End.B, Edge.TOP)
    assert route(here, [frozenset(), frozenset({there})], USUAL) == route(here, [frozenset({there})], USUAL)


def test_picking_a_board_up_for_the_first_time_costs_nothing() -> None:
    assert route(None, [frozenset({Lie(End.B, Edge.BOTTOM)})], USUAL) == (0, (Lie(End.B, Edge.BOTTOM),))


def test_four_cuts_at_one_setting_take_three_turns_the_cheapest_of_them_twice() -> None:
    # By hand: all four lies are reached by rolling, spinning or tumbling once, and rolling again.
    cost, order = route(None, [frozenset(LIES)], USUAL)
    assert len(order) == 4
    assert cost == 2 * USUAL.edge_for_edge + min(USUAL.end_for_end, USUAL.end_over_end)


def test_the_usual_costs_of_the_turns_are_as_two_to_three_to_four() -> None:
    assert [Fraction(cost, USUAL.edge_for_edge) for cost in USUAL] == [1, Fraction(3, 2), 2]


def test_only_the_turns_that_swing_a_board_cost_more_the_longer_it_is() -> None:
    # By hand: 2000 ms a metre makes 760 ms for 380 mm.
    assert turn_costs(Handling(), 380.0) == (2000, 3760, 4760)


def test_where_tumbling_is_cheapest_a_board_is_tumbled_twice_and_turned_once_otherwise() -> None:
    # By hand: of three turns through all four lies, two may be the cheapest kind and one must be another.
    cost, order = route(None, [frozenset(LIES)], TurnCosts(5, 4, 1))
    assert cost == 1 + 4 + 1
    assert [before.turn_to(after) for before, after in pairwise(order)].count(Turn.END_OVER_END) == 2


@given(batches(), st.builds(Handling, *[prices] * 7), st.booleans())
@BATCHES
def test_the_turns_of_every_board_of_a_plan_cost_what_an_exact_search_finds(
    batch: tuple[ShopText, list[LayoutText]], handling: Handling, smallest_first: bool
) -> None:
    shop_text, layouts = batch
    shop = replace(parse_shop("shop.toml", shop_text.text), handling=handling)
    job = make_job([parse_layout(f"layout {n}", layout.text) for n, layout in enumerate(layouts)], shop)
    found = decide(job, smallest_first=smallest_first)
    spent = {board.number: 0 for board in job.boards}
    for step in plan(beginning(job, found)):
        if step.kind is StepKind.CUT:
            assert step.side is not None
            costs = turn_costs(handling, job.pattern_of(step.side.board).part.length_mm)
            spent[step.side.board] += 0 if step.turn is None else costs[list(Turn).index(step.turn)]
    searched = {}
    for number, serving in enumerate(found.serves):
        stages = [
            frozenset(lie_for(shop.jig, end, faces) for (end, _, faces), at in serving.items() if at == setting)
            for setting in range(len(found.fence_mm))
        ]
        searched[number] = searched_cost(
            None,
            [stage for stage in stages if stage],
            turn_costs(handling, job.patterns[number].part.length_mm),
        )
    assert spent == {board.number: searched[board.pattern] for board in job.boards}
