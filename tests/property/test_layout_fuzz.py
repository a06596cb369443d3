"""Whatever a layout file holds, it is either read or refused in words; and the words name the right line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.layout_texts import LayoutText, batches
from support.plain_files import layout_text, shop_text

from coach.ground.errors import CoachError
from coach.joint.files import parse_layout, read_layout
from coach.loading import load
from coach.shop.files import parse_shop
from coach.toml.lines import key_lines

VALUES = (
    "0",
    "-1",
    "3",
    "10001",
    "1e308",
    "nan",
    "-inf",
    "true",
    "0x" + "f" * 5000,
    "9" * 4000,
    "1979-05-27",
    "1979-05-27 07:32:00Z",
    '""',
    '" "',
    '"5"',
    '"5 mm"',
    '"-5 mm"',
    '"0 mm"',
    '"1 3/8 in"',
    '"1e3 mm"',
    '"1/0 in"',
    '"nan mm"',
    '"9999999 mm"',
    '"1:8"',
    '"8:1"',
    '"both"',
    '"\\u0000\\u001b[31m\\u202e"',
    '"""\na\n"""',
    "'''\n'''",
    "[]",
    "[[], [[]]]",
    '["5 mm"]',
    '["5 mm", "30 mm"]',
    "[1, 1.5]",
    "[\n1, # one\n2,\n]",
    "{}",
    '{ from_bottom = "5 mm", width = "500 mm" }',
    '{ joint = "half-blind", lap = "1 mm" }',
    "[{}]",
)
KEYS = (
    "format", "name", "slope", "tolerance", "species", "parts", "label", "boards", "spares", "handed", "width",
    "widest", "thickness", "length", "ends", "joint", "lap", "mates_with", "baseline", "tails", "half_pin", "pin",
    "proportions", "top_marks", "bottom_marks", "groove", "end_A", "end_B", "end_A.tails",
    "'end_B'.\"lap\"", '"\\u001b"', "x" * 70,
)  # fmt: skip
PLACED = re.compile(r"x\.toml(?:, line [1-9][0-9]*)?: ")
QUICK = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def refusals(read: Callable[[], object]) -> tuple[str, ...]:
    """What is said against something that is read; nothing if it is sound."""
    try:
        read()
    except CoachError as error:
        return error.problems or ("",)
    return ()


def read_or_refused(text: str, parse: Callable[[str, str], object] = parse_layout) -> None:
    """`text` is sound, or refused with words that name the file and can be shown on a terminal."""
    for problem in refusals(lambda: parse("x.toml", text)):
        assert PLACED.match(problem)
        assert problem.isprintable()


def paths(data: Any, prefix: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Every key in a TOML document, and every table in its arrays."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield (*prefix, key)
            yield from paths(value, (*prefix, key))
    elif isinstance(data, list):
        for number, item in enumerate(data):
            yield from paths(item, (*prefix, number))


@QUICK
@given(st.text(max_size=200) | st.text("[]{}=\"'#.,\n\\ abc0-", max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    read_or_refused(text)


@QUICK
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(tmp_path_factory: Any, raw: bytes) -> None:
    file: Path = tmp_path_factory.getbasetemp() / "bytes.toml"
    file.write_bytes(raw)
    assert all(problem.startswith(str(file)) for problem in refusals(lambda: read_layout(file)))


@QUICK
@given(st.dictionaries(st.sampled_from(KEYS), st.sampled_from(VALUES), max_size=4), st.booleans())
def test_any_value_at_any_key_is_read_or_refused(changes: dict[str, str], at_the_top: bool) -> None:
    if at_the_top:
        read_or_refused(layout_text(root=changes))
    else:
        read_or_refused(layout_text(changes))


@QUICK
@given(st.dictionaries(st.sampled_from(("kerf", "throat", "scale", "slope", "x")), st.sampled_from(VALUES), max_size=3))
def test_any_value_in_a_shop_is_read_or_refused(changes: dict[str, str]) -> None:
    for text in (shop_text(saw=changes), shop_text(fence=changes), shop_text(jig=changes)):
        read_or_refused(text, parse_shop)


@QUICK
@given(st.data())
def test_a_sound_layout_with_a_slip_of_the_hand_is_read_or_refused(data: st.DataObject) -> None:
    _, layouts = data.draw(batches())
    text = layouts[0].text
    at = data.draw(st.integers(0, len(text)))
    gone = data.draw(st.integers(0, 12))
    typed = data.draw(st.text("\"'[]{}=#.,\n 059mx", max_size=3))
    read_or_refused(text[:at] + typed + text[at + gone :])


@QUICK
@given(batches())
def test_a_sound_layout_is_read(batch: tuple[object, list[LayoutText]]) -> None:
    for layout in batch[1]:
        assert parse_layout("x.toml", layout.text).parts


@QUICK
@given(
    st.dictionaries(
        st.sampled_from(("width", "mates_with", "half_pin", "pin", "baseline", "widest", "length")),
        st.integers(-300, 9000).map(lambda hundredths: f'"{hundredths / 100} mm"'),
        max_size=4,
    )
)
def test_any_lengths_are_planned_or_refused_with_their_file(tmp_path_factory: Any, changes: dict[str, str]) -> None:
    folder: Path = tmp_path_factory.getbasetemp()
    file, shop = folder / "x.toml", folder / "lengths-shop.toml"
    file.write_text(layout_text(changes), encoding="utf-8")
    shop.write_text(shop_text(), encoding="utf-8")
    assert all(problem.startswith(str(file)) for problem in refusals(lambda: load([file], shop, None)))


@QUICK
@given(st.dictionaries(st.sampled_from(KEYS), st.sampled_from(VALUES), max_size=6), st.integers(0, 3))
def test_every_key_has_its_line(changes: dict[str, str], blank: int) -> None:
    text = "\n" * blank + layout_text(changes, more='[parts.end_C]\nlap = "1 mm"\n[[parts]]\n[[parts.a]]\nb = 1\n')
    try:
        data = tomllib.loads(text)
    except ValueError:
        return
    lines = key_lines(text)
    written = text.split("\n")
    for path in paths(data):
        line = written[lines[path] - 1]
        assert str(path[-1]) in line.encode().decode("unicode_escape")


@QUICK
@given(st.text("[]{}=\"'#.,\n\\ ab01-", max_size=40))
def test_whatever_is_toml_has_lines(text: str) -> None:
    try:
        data = tomllib.loads(text)
    except ValueError:
        return
    assert set(paths(data)) <= set(key_lines(text))
