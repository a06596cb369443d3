"""The drawing of a board's leading end, against cells reckoned one by one in the saw's own coordinates."""

from __future__ import annotations

import math
from itertools import product

import pytest
from support.small_jobs import ONE_IN_EIGHT, joint

from coach.tui.drawing import ASCII_GLYPHS, BASELINE, CUT, GLYPHS, NOW, WASTE, WOOD, View, draw, kerf_column
from coach.tui.paint import drawing
from coach.words import Edge, End, Hand, Lie

WIDTH_MM, KERF_MM, TAIL_LENGTH_MM = 72.0, 0.9, 11.0
COLUMNS, DEPTH = 144, 7
CELL_MM = WIDTH_MM / COLUMNS
# From the top edge, the tails are from 6 to 30 mm and from 40 to 63 mm wide at the end: not symmetrical.
LOPSIDED = joint((6.0, 40.0), (9.0, 42.0), mates_with_mm=TAIL_LENGTH_MM)
TAILS_MM = ((6.0, 30.0), (40.0, 63.0))
MARK_MM = {(1, Edge.TOP): 6.0, (2, Edge.TOP): 40.0, (1, Edge.BOTTOM): 42.0, (2, Edge.BOTTOM): 9.0}

LIES = [Lie(end, edge) for end, edge in product(End, Edge)]
every_lie = pytest.mark.parametrize("lie", LIES, ids=lambda lie: f"{lie.end}-{lie.edge}")
both_fence_sides = pytest.mark.parametrize("fence_side", list(Hand))


def view(lie: Lie, fence_side: Hand, *, done: set[tuple[int, Edge]] | None = None, tail: int | None = None) -> View:
    """The end that leads; `tail` is the one whose side at the jig is cut now."""
    now = None if tail is None else (tail, lie.edge)
    return View(LOPSIDED, WIDTH_MM, ONE_IN_EIGHT, KERF_MM, lie, fence_side, frozenset(done or ()), now)


def along_mm(row: int) -> float:
    """How far the middle of a row is from the leading end."""
    return (row + 0.5) / DEPTH * TAIL_LENGTH_MM


def from_jig_mm(column: int, fence_side: Hand) -> float:
    """How far the middle of a column is from the edge at the jig, which is on the fence's side."""
    from_left = (column + 0.5) * CELL_MM
    return WIDTH_MM - from_left if fence_side is Hand.RIGHT else from_left


def is_wood(lie: Lie, from_jig: float, along: float) -> bool:
    """Whether a point of the board is left standing."""
    from_top = from_jig if lie.edge is Edge.TOP else WIDTH_MM - from_jig
    return any(start + along / 8 <= from_top <= stop - along / 8 for start, stop in TAILS_MM)


def kerf_cell(side: tuple[int, Edge], at_jig: Edge, fence_side: Hand, along: float) -> int:
    """The column with the middle of a side's kerf, reckoned at the saw, where the kerf fills -k ≤ x ≤ 0.

    With the side's own edge at the jig, a point d from it and v along is at x = F - W - d·cos θ + v·sin θ, and
    F = W + m·cos θ - k.
    """
    cosine, sine = 8 / math.sqrt(65), 1 / math.sqrt(65)
    fence_less_width = MARK_MM[side] * cosine - KERF_MM
    distance = (fence_less_width + along * sine + KERF_MM / 2) / cosine
    if side[1] is not at_jig:
        distance = WIDTH_MM - distance
    from_jig = int(distance / CELL_MM)
    return COLUMNS - 1 - from_jig if fence_side is Hand.RIGHT else from_jig


@every_lie
@both_fence_sides
def test_wood_and_waste_are_where_the_tails_are_and_are_not(lie: Lie, fence_side: Hand) -> None:
    cells = draw(view(lie, fence_side), COLUMNS, DEPTH + 2)
    expected = [
        [WOOD if is_wood(lie, from_jig_mm(column, fence_side), along_mm(row)) else WASTE for column in range(COLUMNS)]
        for row in range(DEPTH)
    ]
    assert cells[:DEPTH] == expected


@every_lie
@both_fence_sides
@pytest.mark.parametrize("tail", [1, 2])
def test_the_kerf_to_cut_now_is_where_the_blade_goes(lie: Lie, fence_side: Hand, tail: int) -> None:
    cells = draw(view(lie, fence_side, tail=tail), COLUMNS, DEPTH + 2)
    found = [line.index(NOW) for line in cells[:DEPTH]]
    side = (tail, lie.edge)
    assert found == [kerf_cell(side, lie.edge, fence_side, along_mm(row)) for row in range(DEPTH)]


@every_lie
@both_fence_sides
def test_every_kerf_that_is_cut_is_where_the_blade_went_whichever_edge_is_at_the_jig_now(
    lie: Lie, fence_side: Hand
) -> None:
    cells = draw(view(lie, fence_side, done=set(MARK_MM)), COLUMNS, DEPTH + 2)
    for row in range(DEPTH):
        found = [column for column, cell in enumerate(cells[row]) if cell == CUT]
        assert found == sorted(kerf_cell(side, lie.edge, fence_side, along_mm(row)) for side in MARK_MM)


@every_lie
@both_fence_sides
@pytest.mark.parametrize("tail", [1, 2])
def test_the_kerf_to_cut_now_lies_in_waste_beside_its_tail(lie: Lie, fence_side: Hand, tail: int) -> None:
    without = draw(view(lie, fence_side), COLUMNS, DEPTH + 2)
    cells = draw(view(lie, fence_side, tail=tail), COLUMNS, DEPTH + 2)
    away_from_jig = -1 if fence_side is Hand.RIGHT else 1
    for row in range(DEPTH):
        column = cells[row].index(NOW)
        assert without[row][column] == WASTE
        # The kerf is less than two cells wide, so its middle is within a cell of the wood that it leaves.
        assert WOOD in (without[row][column + away_from_jig], without[row][column + 2 * away_from_jig])


@every_lie
@both_fence_sides
@pytest.mark.parametrize("tail", [1, 2])
def test_the_pointer_is_over_the_kerf_where_it_meets_the_end(lie: Lie, fence_side: Hand, tail: int) -> None:
    found = kerf_column(view(lie, fence_side, tail=tail), COLUMNS)
    assert found == kerf_cell((tail, lie.edge), lie.edge, fence_side, 0.0)


def test_without_a_cut_to_make_there_is_no_pointer() -> None:
    assert kerf_column(view(LIES[0], Hand.RIGHT), COLUMNS) is None


@pytest.mark.parametrize(
    ("fence_side", "at_jig", "at_left"),
    [
        (Hand.RIGHT, Edge.TOP, Edge.BOTTOM),
        (Hand.RIGHT, Edge.BOTTOM, Edge.TOP),
        (Hand.LEFT, Edge.TOP, Edge.TOP),
        (Hand.LEFT, Edge.BOTTOM, Edge.BOTTOM),
    ],
)
def test_the_edge_at_the_jig_is_on_the_fences_side(fence_side: Hand, at_jig: Edge, at_left: Edge) -> None:
    cells = draw(view(Lie(End.A, at_jig), fence_side), COLUMNS, DEPTH + 2)
    # By hand: at the end, 6 mm of waste are at the top edge and 9 mm at the bottom edge, in cells of 0.5 mm.
    assert cells[0].index(WOOD) == (12 if at_left is Edge.TOP else 18)
    names = drawing(view(Lie(End.A, at_jig), fence_side), COLUMNS, DEPTH + 2, plain=False, at_saw=True)[-1].plain
    assert names.split() == [at_left, "edge", at_left.other, "edge"]


@both_fence_sides
@pytest.mark.parametrize("plain", [False, True])
def test_the_jig_is_drawn_on_the_fences_side(fence_side: Hand, plain: bool) -> None:
    lines = drawing(view(LIES[0], fence_side, tail=1), COLUMNS, DEPTH + 2, plain=plain, at_saw=True)
    for line in lines[1:-1]:
        text = line.plain.strip()
        assert text.endswith("jig") if fence_side is Hand.RIGHT else text.startswith("jig")


@every_lie
@both_fence_sides
@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("tail", [1, 2])
def test_the_arrow_stands_over_the_kerf(lie: Lie, fence_side: Hand, plain: bool, tail: int) -> None:
    pointer, first, *_ = drawing(view(lie, fence_side, tail=tail), COLUMNS, 40, plain=plain, at_saw=True)
    arrow, kerf = ("v", ASCII_GLYPHS[NOW]) if plain else ("▼", GLYPHS[NOW])
    # The first of so many rows is 0.15 mm from the end, where the kerf is still in the cell in which it starts.
    assert pointer.plain.replace("this kerf", "         ").index(arrow) == first.plain.index(kerf)


def test_below_the_tails_come_the_baseline_and_the_wood_beyond_it() -> None:
    cells = draw(view(LIES[0], Hand.RIGHT), COLUMNS, DEPTH + 2)
    assert cells[DEPTH:] == [[BASELINE] * COLUMNS, [WOOD] * COLUMNS]


@pytest.mark.parametrize("columns", [20, 33, 72])
@every_lie
def test_every_row_is_as_wide_as_asked(columns: int, lie: Lie) -> None:
    cells = draw(view(lie, Hand.RIGHT, done=set(MARK_MM), tail=1), columns, 8)
    assert [len(line) for line in cells] == [columns] * 8


def test_every_kind_of_cell_has_a_sign_of_its_own_and_an_ascii_one() -> None:
    kinds = {WOOD, WASTE, CUT, NOW, BASELINE}
    for glyphs in (GLYPHS, ASCII_GLYPHS):
        assert set(glyphs) == kinds
        assert len(set(glyphs.values())) == len(kinds)
    assert all(sign.isascii() for sign in ASCII_GLYPHS.values())
