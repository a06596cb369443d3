"""What is merely unwise: said with its reason and its source, and never a reason to refuse."""

from __future__ import annotations

import math
from collections.abc import Iterable

import pytest
from support.plain_files import NO_SPACING, Keys, layout_text

from coach.ground.lengths import show_length
from coach.joint.advice import COMMON, FAIRHAM, GRIFFITH, NOYES, Advice, advice, jig_advice
from coach.joint.files import parse_layout

ONE_IN_EIGHT = math.atan(1 / 8)


def show(mm: float) -> str:
    return show_length(mm, "mm")


def given(
    part: Keys | None = None,
    *,
    more: str = "",
    slope: float = ONE_IN_EIGHT,
    kerf_mm: float = 0.9,
    jig_thickness_mm: float = 9.0,
    wide_leads: bool = True,
) -> list[Advice]:
    layout = parse_layout("drawers.toml", layout_text(part, more=more))
    return advice(layout, slope, kerf_mm, jig_thickness_mm, show, wide_leads=wide_leads)


def only(notes: Iterable[Advice], words: str) -> Advice:
    """The one note that says `words`."""
    (note,) = [note for note in notes if words in note.text]
    return note


def drawn(top: str, bottom: str) -> Keys:
    return {**NO_SPACING, "top_marks": top, "bottom_marks": bottom}


def test_a_plain_layout_calls_for_no_advice() -> None:
    assert given() == []


@pytest.mark.parametrize("along", [4.9, 4.0])
def test_a_slope_steeper_than_one_in_five_leaves_short_grain_at_the_corners(along: float) -> None:
    # Weak corners on slopes steeper than about 1:5: common practice, no source.
    note = only(given(slope=math.atan(1 / along)), "short grain")
    assert note.where == "slope"
    assert note.text.startswith(f"1:{along:g} (")
    assert note.source == COMMON


def test_a_slope_of_one_in_five_is_not_too_steep() -> None:
    assert not [note for note in given(slope=math.atan(1 / 5)) if note.where == "slope"]


def test_a_tail_over_an_inch_and_three_quarters_is_too_wide() -> None:
    # Noyes, Handwork in Wood (1910), Ch. VII no. 48: tails no wider than 1 3/4 in, 44.45 mm.
    note = only(given({"width": '"104 mm"', "pin": '"5 mm"'}), "wide at the end")
    assert (note.where, note.source) == ('part "side", end A and end B', NOYES)
    assert note.text == "tail 1 is 44.5 mm wide at the end; tails are best no wider than 1 3/4 in"


def test_a_tail_of_an_inch_and_three_quarters_is_not_too_wide() -> None:
    # Two tails of 44.45 mm, half-pin sockets of 5 and a socket of 9.
    assert given({"width": '"107.9 mm"', "pin": '"9 mm"'}) == []


def test_a_tail_more_than_four_times_its_socket_leaves_weak_pins() -> None:
    # Noyes, the same: up to 4 : 1; he doesn't say where it is measured. Here at the baseline,
    # where 12 mm at 1:8 make a tail of 27 mm one of 24, and a socket of 3 mm one of 6.
    assert given({"width": '"67 mm"', "pin": '"3 mm"'}) == []
    note = only(given({"width": '"68 mm"', "pin": '"3 mm"'}), "times the narrowest socket")
    assert note.source == NOYES
    assert "4.1 times" in note.text


def test_a_socket_below_a_sixteenth_of_an_inch_is_unusually_narrow() -> None:
    # Griffith, Essentials of Woodworking (1908), §100: the narrowest pin is about 1/16 in, 1.5875 mm.
    note = only(given({"pin": '"1.58 mm"'}), "seldom narrower than 1/16 in")
    assert note.source == GRIFFITH
    assert "the narrowest socket is 1.58 mm wide at the end" in note.text


def test_a_socket_of_a_sixteenth_of_an_inch_is_not_too_narrow() -> None:
    assert not [note for note in given({"pin": '"1/16 in"'}) if note.source == GRIFFITH]


def test_a_stop_with_under_two_millimetres_to_bear_on_is_unsafe_to_trust() -> None:
    # Worked by hand: 2.9 × 8/√65 − 0.9 = 1.978 mm.
    note = only(given({"half_pin": '"2.9 mm"'}), "stop")
    assert "at either edge the jig's stop has only 1.98 mm of wood to bear on" in note.text
    assert "expected 2 mm or more" in note.text


def test_a_stop_with_two_millimetres_to_bear_on_will_do() -> None:
    # Worked by hand: 2.93 × 8/√65 − 0.9 = 2.007 mm.
    assert given({"half_pin": '"2.93 mm"'}) == []


def test_the_edge_at_which_the_stop_bears_too_little_is_named() -> None:
    note = only(given(drawn('["2 mm"]', '["5 mm"]')), "stop")
    assert "at the top edge" in note.text


def test_on_a_jig_whose_narrow_end_leads_the_stop_bears_on_a_whole_tail() -> None:
    assert given({"half_pin": '"2 mm"'}, wide_leads=False) == []


def test_a_groove_through_a_socket_would_show_in_a_pin() -> None:
    note = only(given({"groove": '{ from_bottom = "4 mm", width = "5 mm" }'}), "groove")
    assert "the pin board's groove would show in the end of a pin" in note.text


def test_a_groove_out_through_a_tail_of_a_through_joint_shows() -> None:
    note = only(given({"groove": '{ from_bottom = "10 mm", width = "5 mm" }'}), "groove")
    assert "runs out through the end of tail 2 and shows there" in note.text


def test_a_groove_within_a_tail_of_a_half_blind_joint_is_hidden() -> None:
    half_blind = {"joint": '"half-blind"', "lap": '"3 mm"', "groove": '{ from_bottom = "10 mm", width = "5 mm" }'}
    assert given(half_blind) == []


def test_a_groove_must_clear_the_tail_at_the_baseline_too() -> None:
    # The lowest tail begins 5 mm from the bottom edge at the end and 6.5 mm at the baseline.
    groove = {"joint": '"half-blind"', "groove": '{ from_bottom = "6 mm", width = "5 mm" }', "lap": '"0.5 mm"'}
    assert "doesn't fall within one tail" in only(given(groove), "groove").text


def test_a_jig_thicker_than_the_board_keeps_guide_and_guard_up() -> None:
    note = only(given(jig_thickness_mm=10.5), "guide and guard")
    assert (note.where, note.text) == (
        'part "side"',
        "the jig is 10.5 mm thick, the board only 10 mm: the blade's guide and guard can't come down to the board",
    )


def test_a_jig_as_thick_as_the_board_will_do() -> None:
    assert given(jig_thickness_mm=10.0) == []


def test_a_short_board_brings_the_hands_near_the_blade() -> None:
    # 75 mm of clearance and a hand's breadth of 100 beyond the tails' 12 mm: 187.
    note = only(given({"length": '"186 mm"'}), "hands")
    assert note.where == 'part "side", end A'
    assert "only 174 mm of the board is left to hold: hands would come within 75 mm of the blade" in note.text
    assert given({"length": '"187 mm"'}) == []


def test_many_boards_without_a_spare_are_a_risk() -> None:
    assert "6 boards and no spare" in only(given({"boards": "6"}), "spare").text
    assert given({"boards": "6", "spares": "1"}) == []
    assert given({"boards": "5"}) == []


def test_an_allowance_as_long_as_a_tail_is_questioned() -> None:
    # Noyes: up to 1/32 in more, 0.794 mm; Fairham, Woodwork Joints: a trifle less for drawers.
    note = only(given({"baseline": '"12 mm"'}), "allowance")
    assert note.source == NOYES
    assert "baseline adds 12 mm to the tail length, which comes to 24 mm" in note.text
    assert only(given({"baseline": '"-1 mm"'}), "takes 1 mm from the tail length").source == FAIRHAM
    assert given({"baseline": '"1/32 in"'}) == []


def test_advice_on_both_ends_is_said_once() -> None:
    assert [note.where for note in given({"pin": '"1.2 mm"'}) if note.source == GRIFFITH] == [
        'part "side", end A and end B'
    ]


def test_advice_on_one_end_names_it() -> None:
    more = '[parts.end_B]\ntails = 2\nhalf_pin = "5 mm"\npin = "1.2 mm"\n'
    assert [note.where for note in given(more=more) if note.source == GRIFFITH] == ['part "side", end B']


def test_every_advice_has_a_reason_and_a_source() -> None:
    unwise = {"pin": '"1 mm"', "half_pin": '"1 mm"', "boards": "9", "length": '"100 mm"', "width": '"120 mm"'}
    notes = given(unwise, slope=math.atan(1 / 4), jig_thickness_mm=20.0)
    assert len(notes) >= 7
    assert all(note.where and note.text and note.source for note in notes)


def test_an_allowance_on_a_half_blind_end_leaves_the_shoulder_open() -> None:
    # The tails' ends meet the lap before the baseline meets the pin board's inside face: common practice, no source.
    blind = {"joint": '"half-blind"', "lap": '"4 mm"', "mates_with": '"16 mm"'}
    note = only(given({**blind, "baseline": '"0.5 mm"'}), "stays open by so much")
    assert "0.5 mm" in note.text
    for baseline in ('"0 mm"', '"-0.5 mm"'):
        assert not [one for one in given({**blind, "baseline": baseline}) if "stays open" in one.text]
    assert not [one for one in given({"baseline": '"0.5 mm"'}) if "stays open" in one.text]


def test_an_odd_number_of_lefts_and_rights_or_of_their_spares_is_said() -> None:
    def notes(boards: int, spares: int, handed: str = "true") -> list[str]:
        said = given({"handed": handed, "boards": str(boards), "spares": str(spares)})
        return [note.text for note in said if "lefts and rights" in note.text]

    assert "one of them has no mate" in notes(5, 2)[0]
    assert "1 spare in lefts and rights" in notes(4, 1)[0]
    assert notes(4, 2) == []
    assert notes(5, 1, "false") == []


def jig(length_mm: float, width_mm: float, stop_mm: float | None = None, *, wide_leads: bool = True) -> list[str]:
    found = jig_advice(length_mm, width_mm, 10.0, stop_mm, ONE_IN_EIGHT, show, wide_leads=wide_leads)
    return [note.text for note in found]


@pytest.mark.parametrize(("width_mm", "narrow"), [(62.5, False), (62.4, True), (40.0, True)])
def test_a_jig_with_nothing_to_hold_at_its_trailing_end_is_said(width_mm: float, narrow: bool) -> None:
    # Over 300 mm one in eight takes 37.5 mm; an inch of grip, here 25 mm, is common practice, no source.
    assert any("nothing to hold" in text for text in jig(300.0, width_mm)) is narrow


def test_a_jig_whose_narrow_end_leads_is_held_at_its_wide_one() -> None:
    assert jig(300.0, 30.0, wide_leads=False) == []


@pytest.mark.parametrize(("stop_mm", "thicker"), [(None, False), (10.0, False), (10.1, True)])
def test_a_stop_thicker_than_the_wedge_is_said_where_it_is_known(stop_mm: float | None, thicker: bool) -> None:
    assert any("guide and guard have to clear the stop" in text for text in jig(300.0, 80.0, stop_mm)) is thicker
