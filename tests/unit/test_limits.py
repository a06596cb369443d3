"""What wood and blade don't allow: every impossible layout is named, with what would be right."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from support.plain_files import NO_SPACING, Keys, layout_text, line_of, shop_text

from coach.ground.errors import CoachError
from coach.ground.lengths import show_length
from coach.ground.terms import End
from coach.joint.files import parse_layout
from coach.joint.limits import Problem, problems, socket_problems
from coach.loading import load

ONE_IN_EIGHT = math.atan(1 / 8)
# Worked by hand for 1:8 and a kerf of 0.9 mm: 0.9 × √65 / 8 = 0.90700.
NEEDED_MM = 0.90700


def show(mm: float) -> str:
    return show_length(mm, "mm")


def found(
    part: Keys | None = None,
    *,
    root: Keys | None = None,
    more: str = "",
    slope: float = ONE_IN_EIGHT,
    wide_leads: bool = True,
) -> list[Problem]:
    layout = parse_layout("drawers.toml", layout_text(part, root=root, more=more))
    return problems(layout, slope, 0.9, show, wide_leads=wide_leads)


def only(part: Keys | None = None, **given: object) -> str:
    """The one thing that is impossible."""
    (problem,) = found(part, **given)  # type: ignore[arg-type]
    return problem.text


def drawn(top: str, bottom: str) -> Keys:
    return {**NO_SPACING, "top_marks": top, "bottom_marks": bottom}


def refused(folder: Path, text: str, shop: str | None = None) -> tuple[str, ...]:
    (folder / "drawers.toml").write_text(text, encoding="utf-8")
    (folder / "shop.toml").write_text(shop or shop_text(), encoding="utf-8")
    with pytest.raises(CoachError) as caught:
        load([folder / "drawers.toml"], folder / "shop.toml", None)
    return caught.value.problems


def test_a_plain_layout_is_possible() -> None:
    assert found() == []


def test_tails_that_overlap_are_named_with_by_how_much() -> None:
    text = only(drawn('["5 mm", "20 mm"]', '["5 mm", "22 mm"]'))
    # The first tail ends at 57 − 22 = 35 mm, the second begins at 20.
    assert "tails 1 and 2 overlap by 15 mm; expected a socket of at least 0.91 mm between them" in text


def test_tails_that_touch_are_named() -> None:
    assert "tails 1 and 2 touch" in only(drawn('["5 mm", "27 mm"]', '["5 mm", "30 mm"]'))


def test_a_tail_whose_marks_cross_has_no_width() -> None:
    problem = found(drawn('["5 mm", "54 mm"]', '["5 mm", "30 mm"]'))[0]
    assert "tail 2 has no width: its two marks cross by 2 mm" in problem.text


def test_a_tail_whose_marks_meet_has_no_width() -> None:
    assert "its two marks meet" in found(drawn('["27 mm"]', '["30 mm"]'))[0].text


@pytest.mark.parametrize("edge", ["top", "bottom"])
def test_a_mark_beyond_the_board_is_named(edge: str) -> None:
    marks = ('["5 mm", "57 mm"]', '["5 mm", "30 mm"]')
    text = only(drawn(*(marks if edge == "top" else marks[::-1])))
    assert f"the mark 57 mm from the {edge} edge is beyond the board, which is 57 mm wide" in text


def test_a_tail_narrower_at_the_baseline_than_a_third_of_its_end_is_named() -> None:
    # 12 mm at 1:8 takes 3 mm of a tail, so one of 4.4 mm keeps 1.4, less than a third: 1.467.
    text = only({"width": '"14.4 mm"', "tails": "1", "pin": None})
    assert "tail 1, 4.4 mm wide at the end, is only 1.4 mm wide at the baseline, 12 mm further in" in text
    assert "expected at least a third of its width there: fewer or wider tails" in text


def test_a_tail_of_exactly_a_third_at_the_baseline_is_possible() -> None:
    # 12 mm at 1:8 takes 3 mm: a tail of 4.5 mm keeps 1.5.
    assert found({"width": '"14.51 mm"', "tails": "1", "pin": None}) == []


def test_a_tail_that_comes_to_a_point_is_named() -> None:
    text = only({"width": '"12.5 mm"', "tails": "1", "pin": None})
    assert "tail 1, 2.5 mm wide at the end, comes to a point before it reaches the baseline" in text


def test_tails_that_are_alike_are_named_once() -> None:
    assert "tail 1 (and 10 others like it), " in only({"tails": "11"})


def test_both_ends_are_named_where_both_are_wrong() -> None:
    assert only({"tails": "11"}).startswith('part "side", end A and end B: ')


def test_only_the_end_that_is_wrong_is_named() -> None:
    more = '[parts.end_B]\ntails = 11\nhalf_pin = "5 mm"\npin = "4 mm"\n'
    assert only(more=more).startswith('part "side", end B: ')


def test_a_socket_narrower_than_the_blade_is_named() -> None:
    text = only({"pin": '"0.9 mm"'})
    assert "the socket between tails 1 and 2 is 0.9 mm wide at the end; the blade doesn't fit" in text
    assert "expected at least 0.91 mm (kerf 0.9 mm over the cosine of the slope)" in text


def test_a_socket_just_as_wide_as_the_blade_at_the_slope_is_possible() -> None:
    assert found({"pin": f'"{NEEDED_MM + 0.0001} mm"'}) == []


def test_a_socket_too_narrow_on_the_widest_board_is_named() -> None:
    text = only({"pin": '"1.5 mm"', "widest": '"57.8 mm"'})
    assert "the socket between tails 1 and 2 is 0.7 mm wide at the end on the widest board (57.8 mm)" in text


def test_half_pin_sockets_are_as_wide_on_the_widest_board() -> None:
    assert found({"half_pin": '"1 mm"', "widest": '"59 mm"'}) == []


def test_a_half_pin_socket_below_the_kerf_would_saw_the_jig() -> None:
    text = only({"half_pin": '"0.9 mm"'})
    assert "the half-pin socket at either edge is 0.9 mm wide at the end; the blade would saw the jig" in text


@pytest.mark.parametrize("edge", ["top", "bottom"])
def test_the_edge_of_a_narrow_half_pin_socket_is_named(edge: str) -> None:
    marks = ('["0 mm"]', '["5 mm"]')
    assert f"the half-pin socket at the {edge} edge" in only(drawn(*(marks if edge == "top" else marks[::-1])))


def test_on_a_jig_whose_narrow_end_leads_the_blade_runs_out_through_the_other_edge() -> None:
    text = only({"half_pin": '"0.9 mm"'}, wide_leads=False)
    assert "the blade would run out through the edge" in text
    assert "jig" not in text


def test_tails_that_take_all_of_the_board_are_named() -> None:
    assert "24 mm is all taken by the tails (24 mm); expected a longer board" in only({"length": '"24 mm"'})


@pytest.mark.parametrize("slope", ['"1:6"', '"1:7.8"', '"7.24 deg"'])
def test_a_jig_of_another_slope_is_refused(slope: str) -> None:
    text = only(root={"slope": slope})
    assert "the jig has 1:8 (7.1°); expected them within 0.1°" in text


@pytest.mark.parametrize("slope", ['"1:8"', '"7.2 deg"', '"1:8.1"'])
def test_a_jig_within_a_tenth_of_a_degree_will_do(slope: str) -> None:
    assert found(root={"slope": slope}) == []


def test_a_tolerance_of_more_than_a_quarter_of_a_tail_is_refused() -> None:
    # Tails of 21.5 mm keep 18.5 at the baseline, a quarter of which is 4.625.
    assert "4.63 mm is more than a quarter of the narrowest tail" in only(root={"tolerance": '"4.63 mm"'})
    assert found(root={"tolerance": '"4.62 mm"'}) == []


def test_every_impossible_thing_is_told_at_once() -> None:
    texts = [problem.text for problem in found({"half_pin": '"0.5 mm"', "pin": '"0.5 mm"'}, root={"slope": '"1:6"'})]
    assert len(texts) == 3


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"half_pin": '"0.5 mm"'}, "half_pin"),
        ({"pin": '"0.5 mm"'}, "pin"),
        ({"tails": "11"}, "tails"),
        ({"tails": None, "proportions": "[1, 30]"}, "proportions"),
        ({"length": '"20 mm"'}, "length"),
        ({"pin": '"1.5 mm"', "widest": '"58 mm"'}, "widest"),
    ],
)
def test_what_is_impossible_is_told_at_the_key_that_it_comes_from(change: Keys, key: str, tmp_path: Path) -> None:
    text = layout_text(change)
    file = tmp_path / "drawers.toml"
    (problem,) = refused(tmp_path, text)
    assert problem.startswith(f'{file}, line {line_of(text, f"{key} =")}: parts[1].{key}: part "side"')


def test_what_is_impossible_at_an_end_of_its_own_is_told_there(tmp_path: Path) -> None:
    text = layout_text(more='[parts.end_B]\ntop_marks = ["0.5 mm"]\nbottom_marks = ["5 mm"]\n')
    (problem,) = refused(tmp_path, text)
    assert f"line {line_of(text, 'top_marks')}: parts[1].end_B.top_marks: " in problem


def test_a_shared_spacing_is_to_blame_where_an_end_changes_only_the_joint(tmp_path: Path) -> None:
    text = layout_text({"half_pin": '"0.5 mm"'}, more='[parts.end_B]\nmates_with = "14 mm"\n')
    (problem,) = refused(tmp_path, text)
    assert f"line {line_of(text, 'half_pin')}: parts[1].half_pin: " in problem


def test_a_slope_is_told_at_its_line(tmp_path: Path) -> None:
    text = layout_text(root={"slope": '"1:6"'})
    (problem,) = refused(tmp_path, text)
    assert problem.startswith(f"{tmp_path / 'drawers.toml'}, line {line_of(text, 'slope')}: slope: ")


def test_sockets_as_they_would_be_cut_are_judged_alike() -> None:
    joint = parse_layout("drawers.toml", layout_text()).parts[0].ends[End.A]
    (text,) = socket_problems(joint, [5.0, 0.5, 5.0], ONE_IN_EIGHT, 0.9, show, " once rounded to the scale")
    assert text.startswith("the socket between tails 1 and 2 is 0.5 mm wide at the end once rounded to the scale; ")
