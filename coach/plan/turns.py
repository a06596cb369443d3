"""Turning boards with the least handling."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import permutations

from coach.words import Edge, End, Lie, Turn

COST = {None: 0, Turn.EDGE_FOR_EDGE: 2, Turn.END_FOR_END: 3, Turn.END_OVER_END: 4}
"""What a turn costs: rolling a board over swings nothing, spinning it swings its length, tumbling does both."""

LIES = tuple(Lie(end, edge) for end in End for edge in Edge)

Stage = frozenset[Lie]  # how a board has to lie, in any order, at one fence setting
Costs = tuple[int, ...]  # from each of LIES on


def route(lie: Lie | None, stages: Sequence[Stage]) -> tuple[int, tuple[Lie, ...]]:
    """The cheapest way through all `stages`, of which the lies of the first are returned in order.

    Exact: for each stage every order of its lies (at most 24) is tried against the cheapest way on from where it
    leaves the board. Among equals the first in the order of `LIES` wins, so that a route's rest is the route of the
    rest.

    Args:
        lie: how the board was put down; None if it is still to be picked up for the first time, which is free.
        stages: what is left at this setting and at those after it; empty stages are passed over.

    Returns:
        what the turns cost in all, and the lies of the first stage that isn't empty.
    """
    return _route(lie, tuple(stage for stage in stages if stage))


@lru_cache(maxsize=65536)
def _route(lie: Lie | None, todo: tuple[Stage, ...]) -> tuple[int, tuple[Lie, ...]]:
    if not todo:
        return 0, ()
    onward = _costs_from(todo[1:])
    return min(
        (_cost_of(lie, order) + onward[LIES.index(order[-1])], _rank(order), order) for order in permutations(todo[0])
    )[::2]


def _rank(order: Sequence[Lie]) -> tuple[int, ...]:
    return tuple(LIES.index(lie) for lie in order)


def _cost_of(lie: Lie | None, order: Sequence[Lie]) -> int:
    total = 0
    at = lie
    for following in order:
        if at is not None:
            total += COST[at.turn_to(following)]
        at = following
    return total


@lru_cache(maxsize=4096)
def _costs_from(stages: tuple[Stage, ...]) -> Costs:
    costs: Costs = (0,) * len(LIES)
    for stage in reversed(stages):
        costs = _costs_through(stage, costs)
    return costs


@lru_cache(maxsize=4096)
def _costs_through(stage: Stage, onward: Costs) -> Costs:
    return tuple(
        min(_cost_of(lie, order) + onward[LIES.index(order[-1])] for order in permutations(stage)) for lie in LIES
    )
