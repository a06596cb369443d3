"""Turning boards with the least handling."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import permutations
from typing import NamedTuple

from coach.ground.terms import Edge, End, Lie, Turn
from coach.shop.tools import Handling

LIES = tuple(Lie(end, edge) for end in End for edge in Edge)

Stage = frozenset[Lie]  # how a board has to lie, in any order, at one fence setting
Onward = tuple[int, ...]  # what is still to be spent from each of LIES on


class TurnCosts(NamedTuple):
    """What each turn of a board costs, in whole milliseconds."""

    edge_for_edge: int
    end_for_end: int
    end_over_end: int

    def of(self, turn: Turn | None) -> int:
        """What `turn` costs; None costs nothing."""
        match turn:
            case Turn.EDGE_FOR_EDGE:
                return self.edge_for_edge
            case Turn.END_FOR_END:
                return self.end_for_end
            case Turn.END_OVER_END:
                return self.end_over_end
        return 0


@lru_cache(maxsize=1024)
def turn_costs(handling: Handling, length_mm: float) -> TurnCosts:
    """What turning a board `length_mm` long costs: the two turns that swing it cost more, the longer it is."""
    swing = round(handling.swing_ms_per_m * length_mm / 1000)
    return TurnCosts(handling.edge_for_edge_ms, handling.end_for_end_ms + swing, handling.end_over_end_ms + swing)


def route(lie: Lie | None, stages: Sequence[Stage], costs: TurnCosts) -> tuple[int, tuple[Lie, ...]]:
    """The cheapest way through all `stages`, of which the lies of the first are returned in order.

    Exact: for each stage every order of its lies (at most 24) is tried against the cheapest way on from where it
    leaves the board, in whole numbers. Among equals the first in the order of `LIES` wins, so that a route's rest is
    the route of the rest.

    Args:
        lie: how the board was put down; None if it is still to be picked up for the first time, which is free.
        stages: what is left at this setting and at those after it; empty stages are passed over.
        costs: of the turns.

    Returns:
        what the turns cost in all, and the lies of the first stage that isn't empty.
    """
    return _route(lie, tuple(stage for stage in stages if stage), costs)


@lru_cache(maxsize=65536)
def _route(lie: Lie | None, todo: tuple[Stage, ...], costs: TurnCosts) -> tuple[int, tuple[Lie, ...]]:
    if not todo:
        return 0, ()
    onward = _onward_from(todo[1:], costs)
    return min(
        (_cost_of(lie, order, costs) + onward[LIES.index(order[-1])], _rank(order), order)
        for order in permutations(todo[0])
    )[::2]


def _rank(order: Sequence[Lie]) -> tuple[int, ...]:
    return tuple(LIES.index(lie) for lie in order)


def _cost_of(lie: Lie | None, order: Sequence[Lie], costs: TurnCosts) -> int:
    total = 0
    at = lie
    for following in order:
        if at is not None:
            total += costs.of(at.turn_to(following))
        at = following
    return total


@lru_cache(maxsize=4096)
def _onward_from(stages: tuple[Stage, ...], costs: TurnCosts) -> Onward:
    onward: Onward = (0,) * len(LIES)
    for stage in reversed(stages):
        onward = _onward_through(stage, onward, costs)
    return onward


@lru_cache(maxsize=4096)
def _onward_through(stage: Stage, onward: Onward, costs: TurnCosts) -> Onward:
    return tuple(
        min(_cost_of(lie, order, costs) + onward[LIES.index(order[-1])] for order in permutations(stage))
        for lie in LIES
    )
