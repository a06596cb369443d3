"""The pictures of the turns: each of its own shape, and naming what must be visible afterwards."""

from __future__ import annotations

from itertools import combinations, product

import pytest

from coach.ground.terms import End, Face, Turn
from coach.telling.phrases import TURN_WORDS
from coach.tui.drawing.turns import PICTURE_COLUMNS, PICTURE_ROWS, large_words, turn_picture

MOTIONS = [(turn, False) for turn in Turn] + [(None, False), (None, True)]
"""The three turns, then staying as it lies and coming from the pile."""
BOX = frozenset("─│┌┐└┘├┤╭╮╰╯┴╧═▲▼◀▶-|+=<>^v")


def picture(turn: Turn | None, taken: bool, end: End = End.A, face: Face = Face.INSIDE, *, plain: bool = False) -> str:
    return "\n".join(turn_picture(turn, end, face, taken=taken, plain=plain))


def outline(drawn: str) -> set[tuple[int, int]]:
    """The cells that have a line in them, whatever its direction."""
    return {
        (row, column) for row, line in enumerate(drawn.splitlines()) for column, sign in enumerate(line) if sign in BOX
    }


@pytest.mark.parametrize(("turn", "taken"), MOTIONS)
@pytest.mark.parametrize("plain", [False, True])
def test_a_picture_fills_its_rows_and_columns_and_is_plain_where_it_must_be(
    turn: Turn | None, taken: bool, plain: bool
) -> None:
    rows = picture(turn, taken, plain=plain).split("\n")
    assert len(rows) == PICTURE_ROWS
    assert {len(row) for row in rows} == {PICTURE_COLUMNS}
    assert not plain or "".join(rows).isascii()


@pytest.mark.parametrize("plain", [False, True])
def test_no_two_motions_have_a_shape_alike_and_not_an_arrow_alone_tells_them_apart(plain: bool) -> None:
    shapes = [outline(picture(turn, taken, plain=plain)) for turn, taken in MOTIONS]
    for one, other in combinations(shapes, 2):
        assert len(one ^ other) > 20


@pytest.mark.parametrize(("turn", "taken"), MOTIONS)
def test_a_picture_names_the_end_that_leads_and_in_capitals_the_face_that_looks_up_afterwards(
    turn: Turn | None, taken: bool
) -> None:
    for end, face in product(End, Face):
        drawn = picture(turn, taken, end, face)
        assert face.upper() in drawn and face.other.upper() not in drawn
        assert end in drawn


@pytest.mark.parametrize("turn", list(Turn))
def test_the_face_before_is_shown_where_the_turn_changes_it(turn: Turn) -> None:
    changed = turn is not Turn.END_FOR_END
    assert (Face.INSIDE.value in picture(turn, taken=False, face=Face.OUTSIDE)) is changed


def test_edge_for_edge_keeps_the_leading_end_and_end_over_end_changes_it() -> None:
    rolled = picture(Turn.EDGE_FOR_EDGE, taken=False, end=End.B)
    assert rolled.count("B") == 2 and "A" not in rolled
    rows = picture(Turn.END_OVER_END, taken=False, end=End.B, face=Face.OUTSIDE).split("\n")
    assert "A" in rows[0] and "B" in rows[2], "the board before leads with A, the one after with B"


def test_each_motion_has_words_of_its_own_that_can_be_large() -> None:
    words = {large_words(turn, new=new) for turn, new in MOTIONS}
    assert words == {("ROLL",), ("SPIN",), ("TUMBLE",), ("STAY",), ("NEW BOARD", "NEW")}


@pytest.mark.parametrize("turn", [None, *Turn])
def test_a_board_from_the_pile_is_said_to_be_new_however_it_is_then_turned(turn: Turn | None) -> None:
    assert large_words(turn, new=True)[0] == "NEW BOARD"


def test_each_large_word_is_the_verb_of_what_is_said_of_the_turn() -> None:
    for turn in Turn:
        assert TURN_WORDS[turn].startswith(large_words(turn, new=False)[0].lower())
