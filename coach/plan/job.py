"""The boards of a batch and the shop that they are cut with."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from coach.ground.terms import Edge, End, Hand
from coach.joint.layout import EndLayout, Layout, Part
from coach.shop.tools import Shop

EQUAL_MM = 0.0005  # half of the micron within which marks count as equal


@dataclass(frozen=True, slots=True)
class Pattern:
    """What boards of one part and hand have in common.

    Attributes:
        ends: the layout at each end that is cut, lefts and rights already told apart.
        tolerance_mm: how far a mark may shift along the end, if the layout says so; see `Job.tolerance_mm`.
    """

    part: Part
    hand: Hand | None
    ends: Mapping[End, EndLayout]
    tolerance_mm: float | None

    def sides(self) -> list[tuple[End, int, Edge]]:
        """Every side that is to be cut on such a board."""
        return [
            (end, tail, faces)
            for end, joint in self.ends.items()
            for tail in range(1, joint.tails + 1)
            for faces in Edge
        ]


@dataclass(frozen=True, slots=True)
class Board:
    """One board of a batch."""

    number: int
    label: str
    pattern: int
    spare: bool


@dataclass(frozen=True)
class Job:
    """Layouts, shop, and the boards that follow from them."""

    layouts: tuple[Layout, ...]
    shop: Shop
    patterns: tuple[Pattern, ...]
    boards: tuple[Board, ...]

    def board(self, number: int) -> Board:
        """The board of that number."""
        return self.boards[number - 1]

    def pattern_of(self, number: int) -> Pattern:
        """What the board of that number has in common with others of its part."""
        return self.patterns[self.board(number).pattern]

    def tolerance_mm(self, pattern: Pattern) -> float:
        """How far a mark may shift along the end: as the layout says, else half a graduation of the fence in use over
        the cosine of the slope; without a scale not at all."""
        if pattern.tolerance_mm is not None:
            return max(pattern.tolerance_mm, EQUAL_MM)
        graduation = self.shop.fence.graduation
        if graduation is None:
            return EQUAL_MM
        return float(graduation.step_mm) / 2 / math.cos(self.shop.jig.slope)

    @cached_property
    def _rigged(self) -> dict[int, Job]:
        return {0: self}

    def rigged(self, rig: int) -> Job:
        """The same job with a rig of the shop in use, a pair of a fence and a jig; 0 is the pair in use anyway."""
        if rig not in self._rigged:
            self._rigged[rig] = replace(self, shop=self.shop.rigged(rig))
        return self._rigged[rig]

    @cached_property
    def used_patterns(self) -> tuple[int, ...]:
        """The patterns, by index, that a board has: of a handed part with one board the right hand's has none."""
        used = {board.pattern for board in self.boards}
        return tuple(index for index in range(len(self.patterns)) if index in used)

    @cached_property
    def cuts(self) -> int:
        """How many cuts there are in all."""
        sides = [len(pattern.sides()) for pattern in self.patterns]
        return sum(sides[board.pattern] for board in self.boards)


def make_job(layouts: Sequence[Layout], shop: Shop) -> Job:
    """The boards of `layouts` in order: each part's boards, then its spares; lefts and rights in turn where handed.

    Boards are labelled "LABEL 1", "LABEL 2", …; where labels of several layouts clash, the layout's name stands first.
    """
    labels = [part.label for layout in layouts for part in layout.parts]
    patterns: list[Pattern] = []
    boards: list[Board] = []
    for layout in layouts:
        for part in layout.parts:
            hands: tuple[Hand | None, ...] = (Hand.LEFT, Hand.RIGHT) if part.handed else (None,)
            first = len(patterns)
            for hand in hands:
                ends = {(end.other if hand is Hand.RIGHT else end): joint for end, joint in part.ends.items()}
                ordered = {end: ends[end] for end in End if end in ends}
                patterns.append(Pattern(part, hand, ordered, layout.tolerance_mm))
            clash = labels.count(part.label) > 1
            label = f"{layout.name} {part.label}" if clash else part.label
            for index in range(part.boards + part.spares):
                boards.append(
                    Board(
                        number=len(boards) + 1,
                        label=f"{label} {index + 1}",
                        pattern=first + index % len(hands),
                        spare=index >= part.boards,
                    )
                )
    return Job(tuple(layouts), shop, tuple(patterns), tuple(boards))


def laid_out(job: Job, pattern: int) -> int:
    """The pattern by which boards of `pattern` were laid out before any was mended."""
    mended = job.patterns[pattern]
    return next(
        index
        for index, first in enumerate(job.patterns)
        if (first.part, first.hand, first.tolerance_mm) == (mended.part, mended.hand, mended.tolerance_mm)
    )
