"""Pictures of how a board gets from one cut to the next, as the person sees it: the leading end away, at the top.

Each motion has a shape of its own, so that none is taken for another at a glance: rolled over edge for edge, two
boards lie side by side under a bow; tumbled end over end, two lie one above the other beside a bow; spun flat end for
end, a ring runs round one board.
"""

from __future__ import annotations

from functools import lru_cache

from coach.ground.terms import End, Face, Turn

PICTURE_COLUMNS, PICTURE_ROWS = 20, 5

LARGE_VERBS = {Turn.EDGE_FOR_EDGE: "ROLL", Turn.END_FOR_END: "SPIN", Turn.END_OVER_END: "TUMBLE"}
"""A turn in the one word that is large: the verb of `coach.telling.phrases.TURN_WORDS`."""
AS_IT_LIES, NEW_BOARD, NEW = "STAY", "NEW BOARD", "NEW"
"""Without a turn; and for a board that is taken from the pile, which matters more than how it is then turned."""

_ASCII = str.maketrans("╭╮╰╯┌┐└┘├┤┴╧─│═▶◀▲▼", "++++++++++++-|=><^v")


@lru_cache(maxsize=128)
def turn_picture(turn: Turn | None, end: End, face_up: Face, *, taken: bool, plain: bool) -> tuple[str, ...]:
    """The motion in `PICTURE_ROWS` rows of `PICTURE_COLUMNS` cells.

    The board that is to lie on the table names the end that leads and, in capitals, the face that looks up.

    Args:
        turn: the motion; None for none.
        end, face_up: the end that leads afterwards, and the face that then looks up.
        taken: without a turn, the board comes from the pile, and isn't in hand already.
        plain: in signs that a terminal without Unicode has.
    """
    match turn:
        case Turn.EDGE_FOR_EDGE:
            rows = _rolled(end, _small(face_up.other), _tall(face_up))
        case Turn.END_OVER_END:
            rows = _tumbled(end, end.other, _small(face_up.other), _tall(face_up))
        case Turn.END_FOR_END:
            rows = _spun(end, _tall(face_up))
        case _:
            rows = _taken(end, _tall(face_up)) if taken else _left(end, _tall(face_up))
    return tuple(row.translate(_ASCII) if plain else row for row in rows)


def large_words(turn: Turn | None, *, new: bool) -> tuple[str, ...]:
    """What to do in few enough words to be large, the longer ones first.

    Args:
        new: the board comes from the pile, and isn't the one in hand.
    """
    if new:
        return NEW_BOARD, NEW
    return (AS_IT_LIES if turn is None else LARGE_VERBS[turn],)


def _small(face: Face) -> str:
    return f"{face:^7}"


def _tall(face: Face) -> str:
    return f"{face.upper():^7}"


def _rolled(end: str, before: str, after: str) -> tuple[str, ...]:
    return (
        "    ╭──────────╮    ",
        f"┌───┴─{end}─┐  ┌─{end}─▼───┐",
        f"│{before}│  │{after}│",
        "│       │  │       │",
        "└───────┘  └───────┘",
    )


def _tumbled(end: str, other: str, before: str, after: str) -> tuple[str, ...]:
    return (
        f"   ┌───{other}───┐        ",
        f"   │{before}├───╮    ",
        f"   ├───{end}───┤   │    ",
        f"   │{after}│◀──╯    ",
        f"   └───{other}───┘        ",
    )


def _spun(end: str, face: str) -> tuple[str, ...]:
    return (
        "╭─────────────────╮ ",
        f"│    ┌───{end}───┐    ▼ ",
        f"│    │{face}│    │ ",
        "▲    └───────┘    │ ",
        "╰─────────────────╯ ",
    )


def _left(end: str, face: str) -> tuple[str, ...]:
    return (
        f"     ┌───{end}───┐      ",
        "     │       │      ",
        f"     │{face}│      ",
        "     │       │      ",
        "     └───────┘      ",
    )


def _taken(end: str, face: str) -> tuple[str, ...]:
    return (
        f"   ╭──────▶┌───{end}───┐",
        f"═══╧═══    │{face}│",
        "═══════    │       │",
        "═══════    │       │",
        "═══════    └───────┘",
    )
