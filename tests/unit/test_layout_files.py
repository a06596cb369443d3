"""Layout files: what they may hold, and what is said about every mistake in one."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from support.plain_files import NO_SPACING, Keys, layout_text, line_of, shop_text

from coach.ground.errors import CoachError
from coach.ground.terms import End, Joint
from coach.joint.files import parse_layout, read_layout
from coach.joint.layout import EndLayout, Layout

INCH = 25.4
INVISIBLE = [
    ("\\u001b[31m", "001B"),
    ("\\u202e", "202E"),
    ("\\u2066", "2066"),
    ("\\u200b", "200B"),
    ("\\n", "000A"),
    ("\\u2028", "2028"),
    ("\\u00a0", "00A0"),
    ("\\ue000", "E000"),
]


def parsed(part: Keys | None = None, *, root: Keys | None = None, more: str = "") -> Layout:
    return parse_layout("drawers.toml", layout_text(part, root=root, more=more))


def refused(text: str) -> tuple[str, ...]:
    with pytest.raises(CoachError) as caught:
        parse_layout("drawers.toml", text)
    return caught.value.problems


def refusal(part: Keys | None = None, *, root: Keys | None = None, more: str = "") -> str:
    """The one thing that is said to be wrong."""
    (problem,) = refused(layout_text(part, root=root, more=more))
    return problem


def end(layout: Layout, which: End = End.A) -> EndLayout:
    return layout.parts[0].ends[which]


# What a file may hold.


def test_an_even_spacing_leaves_tails_of_one_width() -> None:
    layout = parsed()
    assert end(layout).top_marks_mm == (5.0, 30.5)
    assert end(layout).tail_widths_mm(57.0) == [21.5, 21.5]


def test_an_even_spacing_is_symmetrical() -> None:
    assert end(parsed()).top_marks_mm == end(parsed()).bottom_marks_mm


def test_proportions_share_out_the_wood_from_the_top_edge_on() -> None:
    layout = parsed({"tails": None, "proportions": "[1, 1.5, 2.5]", "width": '"68 mm"'})
    # 68 less two half-pin sockets of 5 and two of 4 leaves 50: 10, 15 and 25.
    assert end(layout).tail_widths_mm(68.0) == pytest.approx([10.0, 15.0, 25.0], abs=1e-12)


def test_proportions_serve_both_kinds_of_marks() -> None:
    layout = parsed({"tails": None, "proportions": "[1, 1.5, 2.5]", "width": '"68 mm"'})
    assert end(layout).top_marks_mm == (5.0, 19.0, 38.0)
    assert end(layout).bottom_marks_mm == (5.0, 34.0, 53.0)


def test_marks_as_drawn_by_hand_need_not_be_symmetrical() -> None:
    drawn = {"top_marks": '["6 mm", "1 1/4 in"]', "bottom_marks": '["8 mm", "30 mm"]'}
    layout = parsed({**NO_SPACING, **drawn})
    assert end(layout).top_marks_mm == (6.0, 31.75)
    assert end(layout).bottom_marks_mm == (8.0, 30.0)


def test_units_may_be_mixed_in_one_file() -> None:
    part = parsed({"width": '"2 1/4 in"', "thickness": '"1 cm"', "length": "'1 ft 3 in'"}).parts[0]
    assert (part.width_mm, part.thickness_mm, part.length_mm) == (2.25 * INCH, 10.0, 15 * INCH)


def test_a_single_tail_needs_no_width_of_inner_sockets() -> None:
    assert end(parsed({"tails": "1", "pin": None})).tail_widths_mm(57.0) == [47.0]


def test_a_single_share_needs_no_width_of_inner_sockets() -> None:
    layout = parsed({"tails": None, "proportions": "[1]", "pin": None})
    assert end(layout).tail_widths_mm(57.0) == [47.0]


def test_the_tails_of_a_through_joint_are_as_long_as_the_pin_board_is_thick() -> None:
    assert end(parsed()).tail_length_mm == 12.0


def test_the_baseline_is_an_allowance_that_may_be_negative() -> None:
    assert end(parsed({"baseline": '"0.5 mm"'})).tail_length_mm == 12.5
    assert end(parsed({"baseline": '"-0.5 mm"'})).tail_length_mm == 11.5


def test_a_half_blind_joint_leaves_its_lap() -> None:
    joint = end(parsed({"joint": '"half-blind"', "lap": '"4 mm"', "mates_with": '"18 mm"'}))
    assert (joint.joint, joint.lap_mm, joint.tail_length_mm) == (Joint.HALF_BLIND, 4.0, 14.0)


@pytest.mark.parametrize(("ends", "cut"), [("A", [End.A]), ("B", [End.B]), ("both", [End.A, End.B])])
def test_only_the_named_ends_are_cut(ends: str, cut: list[End]) -> None:
    assert list(parsed({"ends": f'"{ends}"'}).parts[0].ends) == cut


def test_an_end_of_its_own_changes_only_what_it_names() -> None:
    layout = parsed(more='[parts.end_A]\njoint = "half-blind"\nmates_with = "18 mm"\nlap = "4 mm"\n')
    assert (end(layout).joint, end(layout, End.B).joint) == (Joint.HALF_BLIND, Joint.THROUGH)
    assert (end(layout).tail_length_mm, end(layout, End.B).tail_length_mm) == (14.0, 12.0)
    assert end(layout).top_marks_mm == end(layout, End.B).top_marks_mm


def test_a_spacing_at_an_end_replaces_the_parts_whole_spacing() -> None:
    layout = parsed(more='[parts.end_B]\ntop_marks = ["7 mm"]\nbottom_marks = ["9 mm"]\n')
    assert (end(layout, End.B).top_marks_mm, end(layout, End.B).bottom_marks_mm) == ((7.0,), (9.0,))
    assert end(layout).tails == 2


def test_spares_and_hands_are_as_said() -> None:
    part = parsed({"spares": "2", "handed": "true"}).parts[0]
    assert (part.boards, part.spares, part.handed) == (4, 2, True)


def test_without_a_word_there_are_no_spares_and_no_hands() -> None:
    part = parsed().parts[0]
    assert (part.spares, part.handed) == (0, False)


def test_the_widest_board_is_as_measured_or_as_wide_as_meant() -> None:
    assert parsed({"widest": '"57.4 mm"'}).parts[0].widest_mm == 57.4
    assert parsed().parts[0].widest_mm == 57.0


def test_a_groove_is_measured_from_the_bottom_edge() -> None:
    groove = parsed({"groove": '{ from_bottom = "8 mm", width = "5 mm" }'}).parts[0].groove
    assert groove is not None
    assert (groove.from_bottom_mm, groove.width_mm) == (8.0, 5.0)


def test_slope_tolerance_and_species_are_optional() -> None:
    said = parsed(root={"slope": '"1:8"', "tolerance": '"0.2 mm"', "species": '"cherry"'})
    assert said.slope == pytest.approx(math.atan(1 / 8), abs=1e-15)
    assert (said.tolerance_mm, said.species) == (0.2, "cherry")
    assert (parsed().slope, parsed().tolerance_mm, parsed().species) == (None, None, None)


@pytest.mark.parametrize(
    ("width", "length", "unit"),
    [
        ("57 mm", "38 cm", "mm"),
        ("57 millimetres", "0.38 metres", "mm"),
        ("2 1/4 in", "1 ft 3 in", "in"),
        ("2.25 inches", '15"', "in"),
    ],
)
def test_a_layout_is_shown_in_the_unit_in_which_most_of_it_is_written(width: str, length: str, unit: str) -> None:
    thickness = '"10 mm"' if unit == "mm" else '"3/8 in"'
    assert parsed({"width": f"'{width}'", "length": f"'{length}'", "thickness": thickness}).unit == unit


def test_a_name_that_looks_like_markup_stays_as_written() -> None:
    layout = parsed({"label": '"a [/] & b"'}, root={"name": '"[bold]x[/]"'})
    assert (layout.name, layout.parts[0].label) == ("[bold]x[/]", "a [/] & b")


def test_a_name_may_have_sixty_characters() -> None:
    assert parsed(root={"name": f'"{"ä" * 60}"'}).name == "ä" * 60


# Forms of TOML.


def test_parts_may_stand_in_one_line() -> None:
    part = (
        'label = "side", boards = 4, width = "57 mm", thickness = "10 mm", length = "380 mm", ends = "A", '
        'joint = "through", mates_with = "12 mm", tails = 2, half_pin = "5 mm", pin = "4 mm"'
    )
    layout = parse_layout("x", f'format = 1\nname = "Drawers"\nparts = [{{ {part} }}]')
    assert layout.parts[0].ends[End.A].top_marks_mm == (5.0, 30.5)


def test_keys_may_be_dotted() -> None:
    dotted = {"end_A.tails": "1", "end_A.half_pin": '"6 mm"', "groove.from_bottom": '"8 mm"', "groove.width": '"5 mm"'}
    layout = parsed(dotted)
    assert end(layout).top_marks_mm == (6.0,)
    assert layout.parts[0].groove is not None


@pytest.mark.parametrize(
    "change",
    [
        lambda text: b"\xef\xbb\xbf" + text.encode(),
        lambda text: text.replace("\n", "\r\n").encode(),
        lambda text: text.rstrip("\n").encode(),
    ],
    ids=["byte-order mark", "CRLF", "no newline at the end"],
)
def test_how_an_editor_saves_a_file_makes_no_difference(change: object, tmp_path: Path) -> None:
    assert callable(change)
    file = tmp_path / "drawers.toml"
    file.write_bytes(change(layout_text()))
    assert read_layout(file).layout == parsed()


# Files that can't be read.


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match=r"none\.toml: no such file$"):
        read_layout(tmp_path / "none.toml")


def test_a_folder_is_no_layout(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match="this is a folder; expected a TOML file"):
        read_layout(tmp_path)


def test_a_file_over_one_megabyte_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "long.toml"
    file.write_text(layout_text() + "#" * 1_000_000, encoding="utf-8")
    with pytest.raises(CoachError, match=r"long\.toml: larger than 1 MB"):
        read_layout(file)


@pytest.mark.parametrize("encoding", ["latin-1", "utf-16"])
def test_text_that_is_not_utf_8_is_refused(encoding: str, tmp_path: Path) -> None:
    file = tmp_path / "old.toml"
    file.write_bytes(layout_text(root={"name": '"Müller"'}).encode(encoding))
    with pytest.raises(CoachError, match=r"old\.toml, line [12]: not UTF-8 text; save the file as UTF-8"):
        read_layout(file)


def test_a_length_without_quotes_is_told_at_its_line() -> None:
    text = layout_text({"half_pin": "5 mm"})
    line = line_of(text, "half_pin")
    (problem,) = refused(text)
    assert problem.startswith(f"drawers.toml, line {line}: not valid TOML: ")
    assert problem.endswith('; lengths and slopes stand in quotes, such as "5 mm"')


def test_an_inch_sign_inside_double_quotes_is_explained() -> None:
    assert "single quotes, such as '3/16\"'" in refusal({"pin": '"3/16""'})


def test_an_empty_file_misses_everything_it_needs() -> None:
    assert [problem.split(";")[0] for problem in refused("")] == [
        'drawers.toml: "format" is missing',
        'drawers.toml: "name" is missing',
        'drawers.toml: "parts" is missing',
    ]


def test_deep_nesting_is_bad_input_and_no_crash() -> None:
    assert refused("a = " + "[" * 100_000) == (
        "drawers.toml, line 1: tables nested too deeply; expected the few levels of a layout",
    )


@pytest.mark.parametrize("digits", ["9" * 4301, "-" + "9" * 5000])
def test_a_number_of_thousands_of_digits_is_bad_input_and_no_crash(digits: str) -> None:
    assert refused(f"format = {digits}") == ("drawers.toml: a number with thousands of digits; expected small ones",)


@pytest.mark.parametrize("key", ["boards", "width", "proportions", "tails"])
def test_a_huge_hexadecimal_number_is_bad_input_and_no_crash(key: str) -> None:
    value = "0x" + "f" * 5000
    changes = {"proportions": f"[{value}]", "tails": None} if key == "proportions" else {key: value}
    assert f"parts[1].{key}" in refusal(changes)
    assert "found a very large number" in refusal(changes)


def test_a_shop_file_is_told_from_a_layout() -> None:
    (problem,) = refused(shop_text())
    assert problem == "drawers.toml: this is a shop file; expected a layout, with --shop drawers.toml to use this shop"


# What is wrong, and where.


def test_every_mistake_of_a_file_is_told_at_once() -> None:
    text = layout_text({"boards": "0", "width": "57", "half_pin": '"5"', "joint": '"dovetail"'}, root={"name": '""'})
    assert len(refused(text)) == 5


def test_a_mistake_in_what_both_ends_share_is_told_once() -> None:
    assert "mates_with" in refusal({"mates_with": '"thick"'})


def test_a_mistake_names_file_line_key_what_was_found_and_what_would_be_right() -> None:
    text = layout_text({"half_pin": '"5"'})
    line = line_of(text, "half_pin")
    assert refused(text) == (
        f'drawers.toml, line {line}: parts[1].half_pin: "5": a length needs a unit, such as "5 mm" or "3/16 in"',
    )


def test_a_bare_number_is_told_what_it_lacks() -> None:
    assert refusal({"width": "57"}).endswith('parts[1].width: found 57: a length needs a unit, such as "57 mm"')


def test_the_second_part_is_told_from_the_first() -> None:
    second = layout_text({"label": '"back"', "boards": '"many"'}).split("\n\n", 1)[1]
    text = layout_text(more=second)
    lines = text.splitlines()
    line = len(lines) - lines[::-1].index('boards = "many"')
    assert refused(text) == (
        f'drawers.toml, line {line}: parts[2].boards: found "many"; expected a whole number from 1 to 10000',
    )


def test_a_mistake_in_a_list_is_told_at_its_own_line() -> None:
    drawn = {"top_marks": '[\n "5 mm", # one\n "x",\n]', "bottom_marks": '["5 mm", "30 mm"]'}
    text = layout_text({**NO_SPACING, **drawn})
    line = line_of(text, ' "x"')
    assert refused(text)[0].startswith(f'drawers.toml, line {line}: parts[1].top_marks[2]: "x": ')


def test_a_mistake_in_parts_that_stand_in_one_line_is_told_at_that_line() -> None:
    (problem, *_) = refused('format = 1\nname = "x"\n\nparts = [{ label = 5 }]')
    assert problem == "drawers.toml, line 4: parts[1].label: found 5; expected a text in quotes"


def test_a_line_is_right_below_a_text_of_many_lines() -> None:
    text = 'format = 1\nname = """\nlong\n"""\nspecies = 5\n'
    assert "drawers.toml, line 5: species: found 5; expected a text in quotes" in refused(text)


def test_a_missing_key_is_told_at_its_part() -> None:
    text = layout_text({"thickness": None})
    assert refused(text) == (
        f'drawers.toml, line {line_of(text, "[[parts]]")}: parts[1]: "thickness" is missing; '
        'expected a length such as "5 mm"',
    )


@pytest.mark.parametrize(
    "key", ["label", "boards", "width", "thickness", "length", "ends", "joint", "mates_with", "half_pin", "pin"]
)
def test_each_key_that_a_part_needs_is_missed(key: str) -> None:
    assert f'"{key}" is missing' in refusal({key: None})


@pytest.mark.parametrize(
    ("key", "meant"),
    [
        ("widht", "width"),
        ("half-pin", "half_pin"),
        ("halfpin", "half_pin"),
        ("Spares", "spares"),
        ("board", "boards"),
        ("propotions", "proportions"),
        ("mates_width", "mates_with"),
        ("grove", "groove"),
    ],
)
def test_an_unknown_key_is_told_with_the_nearest_known_one(key: str, meant: str) -> None:
    text = layout_text({key: '"5 mm"'})
    assert refused(text) == (
        f'drawers.toml, line {line_of(text, f"{key} =")}: parts[1].{key}: unknown key; did you mean "{meant}"?',
    )


def test_an_unknown_key_like_no_other_is_told_what_is_known() -> None:
    assert "unknown key; known here: format, name, slope, tolerance, species, parts" in refusal(root={"qqqq": "1"})


def test_a_multitude_of_unknown_keys_is_told_in_one_line() -> None:
    many: Keys = {f"k{number}": "1" for number in range(1000)}
    assert refusal(root=many) == (
        "drawers.toml: 1000 unknown keys; known here: format, name, slope, tolerance, species, parts"
    )


def test_a_key_in_the_wrong_table_is_told_where_it_belongs() -> None:
    assert "unknown key; it belongs at the top of the file" in refusal({"species": '"cherry"'})
    assert "unknown key; it belongs in a [[parts]] table" in refusal(root={"width": '"57 mm"'})
    more = '[parts.end_A]\ngroove = { from_bottom = "8 mm", width = "5 mm" }\n'
    assert "parts[1].end_A.groove: unknown key; it belongs to the part as a whole" in refusal(more=more)


def test_an_unknown_key_never_reaches_the_terminal_as_it_is() -> None:
    assert "\x1b" not in refusal({'"\\u001b[31mred"': "1"})


def test_two_spacings_are_one_too_many() -> None:
    drawn = {"top_marks": '["5 mm"]', "bottom_marks": '["5 mm"]'}
    assert "tails: stands beside top_marks: two spacings; expected one of them" in refusal(drawn)
    assert "proportions: stands beside tails: two spacings; expected one of them" in refusal({"proportions": "[1, 1]"})


def test_a_part_without_a_spacing_is_told_what_there_is() -> None:
    assert "no spacing; expected tails, half_pin and pin, or proportions" in refusal(NO_SPACING)


def test_half_of_a_spacing_at_an_end_is_explained() -> None:
    assert (
        'parts[1].end_A: "half_pin" is missing: a spacing given at an end replaces the part\'s whole spacing'
        in refusal(more="[parts.end_A]\ntails = 3\n")
    )


def test_top_marks_alone_miss_the_bottom_ones() -> None:
    assert '"bottom_marks" is missing' in refusal({**NO_SPACING, "top_marks": '["5 mm"]'})


def test_there_are_as_many_bottom_marks_as_top_ones() -> None:
    drawn = {"top_marks": '["5 mm", "30 mm"]', "bottom_marks": '["5 mm"]'}
    assert "bottom_marks: 1 marks, but top_marks has 2; every tail needs one of each" in refusal(
        {**NO_SPACING, **drawn}
    )


def test_marks_ascend() -> None:
    drawn = {"top_marks": '["30 mm", "5 mm"]', "bottom_marks": '["5 mm", "30 mm"]'}
    assert "top_marks: the marks don't ascend" in refusal({**NO_SPACING, **drawn})


@pytest.mark.parametrize("tails", ["0", "-1", "101", "2.0", '"two"', "true"])
def test_there_are_from_one_to_a_hundred_tails(tails: str) -> None:
    assert f"tails: found {tails}; expected a whole number from 1 to 100" in refusal({"tails": tails})


@pytest.mark.parametrize(
    ("shares", "says"),
    [
        ("[]", "found a list; expected 1 to 100 numbers above zero"),
        (f"[{', '.join(['1'] * 101)}]", "found a list; expected 1 to 100 numbers above zero"),
        ("[1, 0]", "proportions[2]: found 0; expected a number from 0.001 to 1000"),
        ("[nan]", "proportions[1]: found nan; expected a number from 0.001 to 1000"),
        ("[inf]", "proportions[1]: found inf; expected a number from 0.001 to 1000"),
        ('["1"]', 'proportions[1]: found "1"; expected a number from 0.001 to 1000'),
        ("[true]", "proportions[1]: found true; expected a number from 0.001 to 1000"),
        ("3", "found 3; expected 1 to 100 numbers above zero"),
    ],
)
def test_proportions_are_plain_numbers(shares: str, says: str) -> None:
    assert says in refusal({"tails": None, "proportions": shares})


def test_no_marks_are_zero_tails() -> None:
    problems = refused(layout_text({**NO_SPACING, "top_marks": "[]", "bottom_marks": "[]"}))
    assert "top_marks: found 0 marks; expected from 1 to 100" in problems[0]


def test_sockets_that_leave_no_wood_are_told_with_their_sum() -> None:
    assert refusal({"tails": "13"}).endswith(
        "parts[1].tails: no wood is left for the tails: with 13 of them the sockets alone take 58 mm of the width, "
        "57 mm; expected fewer tails or narrower sockets"
    )


@pytest.mark.parametrize("lap", ["12 mm", "15 mm"])
def test_a_lap_as_thick_as_its_pin_board_is_refused(lap: str) -> None:
    problem = refusal({"joint": '"half-blind"', "lap": f'"{lap}"'})
    assert f'lap: found "{lap}", no less than the pin board\'s thickness; expected less than mates_with' in problem


def test_a_half_blind_joint_needs_a_lap() -> None:
    assert '"lap" is missing' in refusal({"joint": '"half-blind"'})


def test_a_lap_is_missed_at_the_end_that_is_half_blind() -> None:
    assert 'parts[1].end_B: "lap" is missing' in refusal(more='[parts.end_B]\njoint = "half-blind"\n')


def test_a_through_joint_has_no_lap() -> None:
    assert "lap: a through joint has no lap" in refusal({"lap": '"4 mm"'})
    assert "end_A.lap: a through joint has no lap" in refusal(more='[parts.end_A]\nlap = "4 mm"\n')


def test_a_baseline_that_takes_away_the_tail_is_refused() -> None:
    assert 'baseline: found "-12 mm", which takes away all of the tail' in refusal({"baseline": '"-12 mm"'})


def test_an_end_that_is_not_cut_has_no_table() -> None:
    assert 'parts[1].end_B: end B isn\'t cut, since ends = "A"' in refusal(
        {"ends": '"A"'}, more="[parts.end_B]\ntails = 1\n"
    )


def test_the_widest_board_is_no_narrower_than_the_width() -> None:
    assert 'widest: found "56 mm", less than the width' in refusal({"widest": '"56 mm"'})


def test_a_groove_beyond_the_board_is_refused() -> None:
    groove = '{ from_bottom = "50 mm", width = "8 mm" }'
    assert "groove: reaches beyond the top edge" in refusal({"groove": groove})


def test_two_parts_of_one_label_are_refused() -> None:
    text = layout_text(more=layout_text().split("\n\n", 1)[1])
    assert refused(text)[0].endswith('parts[2].label: "side" is the label of an earlier part; expected one of its own')


@pytest.mark.parametrize("key", ["width", "thickness", "length", "mates_with", "half_pin", "pin"])
def test_no_length_of_wood_is_zero(key: str) -> None:
    assert f'{key}: found "0 mm"; expected a length above zero' in refusal({key: '"0 mm"'})


def test_only_the_baseline_may_be_negative() -> None:
    assert "can't be negative" in refusal({"pin": '"-4 mm"'})


@pytest.mark.parametrize("count", ["0", "10001", "99999999999999999999"])
def test_there_are_from_one_to_ten_thousand_boards(count: str) -> None:
    assert "expected a whole number from 1 to 10000" in refusal({"boards": count})


def test_spares_count_towards_the_ten_thousand() -> None:
    assert parsed({"boards": "9999", "spares": "1"}).parts[0].spares == 1
    assert "10001 boards in all; expected at most 10000" in refusal({"boards": "9999", "spares": "2"})


@pytest.mark.parametrize("version", ["2", "0", '"1"', "1.0", "true"])
def test_another_format_is_refused(version: str) -> None:
    assert f"format: found {version}; expected 1" in refusal(root={"format": version})


@pytest.mark.parametrize("name", ['""', '"  "'])
def test_a_name_is_not_empty(name: str) -> None:
    assert "name: is empty; expected 1 to 60 characters" in refusal(root={"name": name})


def test_a_name_has_at_most_sixty_characters() -> None:
    assert "name: has 61 characters; at most 60 are allowed" in refusal(root={"name": f'"{"n" * 61}"'})


@pytest.mark.parametrize("key", ["name", "label"])
@pytest.mark.parametrize(("sign", "number"), INVISIBLE)
def test_control_and_bidirectional_characters_are_refused_by_number(key: str, sign: str, number: str) -> None:
    said = {key: f'"a{sign}b"'}
    problem = refusal(root=said) if key == "name" else refusal(said)
    assert f"holds the unprintable character U+{number}" in problem
    assert problem.isprintable()


def test_a_label_given_twice_with_control_characters_is_shown_without_them() -> None:
    bad = {"label": '"a\\u001b[31m"'}
    text = layout_text(bad, more=layout_text(bad).split("\n\n", 1)[1])
    assert all(problem.isprintable() for problem in refused(text))


@pytest.mark.parametrize("parts", ["[]", "[1]", '"x"', "{}"])
def test_parts_are_tables(parts: str) -> None:
    (problem,) = refused(f'format = 1\nname = "x"\nparts = {parts}')
    assert "[[parts]]" in problem


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("handed", '"yes"', "true or false"),
        ("ends", '"C"', '"A" or "B" or "both"'),
        ("joint", '"mitre"', '"through" or "half-blind"'),
        ("groove", '"8 mm"', "a table"),
        ("width", "2031-03-04", 'a length such as "5 mm"'),
        ("label", "5", "a text in quotes"),
    ],
)
def test_a_value_of_another_kind_is_told_what_was_found_and_expected(key: str, value: str, expected: str) -> None:
    assert refusal({key: value}).endswith(f"parts[1].{key}: found {value}; expected {expected}")
