"""The quick look at an event's form takes just what the thorough one takes."""

from __future__ import annotations

import pytest

from coach.record.batch.shapes import SHAPES, _fits_at_once, _misfits, misfit
from coach.record.rows import Event

VALUES: dict[str, object] = {
    "number": 3, "board": "side 1", "end": "A", "tail": 2, "faces": "top", "edge": "bottom", "face_up": "inside",
    "turn": "edge-for-edge", "setting": 0, "mark_mm": 5.0, "topic": "ends", "reading": "109.36 mm", "fence_mm": 84,
    "measured_mm": 5.2, "of": "cut", "reason": "knot", "spare": 4, "relettered": True, "label": "best side",
    "mistake": "off the line", "off_mm": -0.4, "verdict": "spoiled", "key": 7,
}  # fmt: skip
JUNK: tuple[object, ...] = (
    None,
    "",
    "a\x1bb",
    "x" * 2000,
    -1,
    0,
    10**10,
    1.5,
    float("inf"),
    float("nan"),
    True,
    [],
    {},
    [1],
    "A",
    "top",
    3,
)
FLAT = [kind for kind, shape in SHAPES.items() if {key.rstrip("?") for key in shape} <= VALUES.keys()]


def data_of(kind: str) -> dict[str, object]:
    return {key.rstrip("?"): VALUES[key.rstrip("?")] for key in SHAPES[kind]}


@pytest.mark.parametrize("kind", FLAT)
def test_both_say_the_same_of_every_value(kind: str) -> None:
    good = data_of(kind)
    assert _fits_at_once(kind, good)
    assert misfit(Event(1, "", kind, good)) is None
    for key in good:
        for junk in JUNK:
            data = {**good, key: junk}
            assert _fits_at_once(kind, data) == (next(_misfits(data, SHAPES[kind], ""), None) is None), (key, junk)
        without = {name: value for name, value in good.items() if name != key}
        assert _fits_at_once(kind, without) == (next(_misfits(without, SHAPES[kind], ""), None) is None), key


def test_most_kinds_are_looked_at_quickly() -> None:
    assert {"cut", "set-fence", "check", "prepare", "fit", "undo", "return", "spoil"} <= set(FLAT)
