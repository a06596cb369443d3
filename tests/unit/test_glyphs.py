"""Large letters: read back from their cells they spell the text, and they are as large as the room allows."""

from __future__ import annotations

import string
from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.glyph_reader import read

from coach.ground.lengths import Graduation, parse_length, show_length
from coach.tui.drawing.glyphs import COMPACT, DOUBLE, FORMS, GLYPH_ROWS, SINGLE, Form, large, render, signs, spelled

every_form = pytest.mark.parametrize("form", FORMS, ids=["giant", "huge", "double", "single", "compact"])
of_the_font = st.text(st.sampled_from(sorted(signs())), min_size=1, max_size=60).filter(lambda text: text.strip() != "")
SIXTY_FOURTHS = Graduation(parse_length("1/64 in"), "in")


def pixels(sign: str) -> tuple[str, ...]:
    """The pixels of a sign, one cell each."""
    lines = render(sign, SINGLE, plain=True)
    assert lines is not None
    return lines


def differing(one: str, other: str) -> int:
    """In how many pixels two signs differ, set side by side at their left."""
    width, rows = max(len(pixels(s)[0]) for s in (one, other)), GLYPH_ROWS + 1
    flat = ["".join(row.ljust(width) for row in (*pixels(s), *[""] * rows)[:rows]) for s in (one, other)]
    return sum(a != b for a, b in zip(*flat, strict=True))


def test_the_font_has_digits_all_letters_and_the_signs_of_readings_labels_and_turns() -> None:
    assert signs() >= set(string.digits + string.ascii_letters + " /.,-+'\"():#&°")


def test_all_glyphs_differ_in_every_form_so_that_none_is_taken_for_another() -> None:
    for form in FORMS:
        drawn = [render(sign, form, plain=False) for sign in signs() - {" "}]
        assert len(set(drawn)) == len(signs()) - 1


@pytest.mark.parametrize("likes", ["0OoQD", "1lI|!i", "5S9", "8B0", "2Z7", "6G8", "3489", "uvn", "MNW"])
def test_signs_that_are_often_confused_differ_in_more_than_one_pixel(likes: str) -> None:
    for one, other in combinations(likes, 2):
        assert differing(one, other) >= 2, f"{one} and {other}"


def test_a_reading_looks_like_what_it_says() -> None:
    assert render("7 3/16", SINGLE, plain=True) == (
        "###    ###   #  #   ##",
        "  #      #   # ##  #  ",
        "  #     ##  #   #  ###",
        " #       # #    #  # #",
        " #     ### #   ### ###",
    )


def test_digits_differ_from_each_other_in_three_pixels_or_more() -> None:
    for one, other in combinations(string.digits, 2):
        assert differing(one, other) >= 3, f"{one} and {other}"


@pytest.mark.parametrize("sign", list(string.digits + "/()"))
def test_a_fraction_and_its_stroke_are_as_high_as_a_digit(sign: str) -> None:
    assert len(pixels(sign)) >= GLYPH_ROWS
    assert all("#" in row for row in pixels(sign))


@every_form
@given(text=of_the_font)
def test_whatever_is_set_large_is_read_back_from_its_cells(form: Form, text: str) -> None:
    lines = render(text, form, plain=False)
    assert lines is not None
    assert read(lines, plain=False) == text.strip()


@given(text=of_the_font)
def test_in_plain_signs_it_is_read_back_as_well(text: str) -> None:
    lines = render(text, DOUBLE, plain=True)
    assert lines is not None and "".join(lines).isascii()
    assert read(lines, plain=True) == text.strip()


@given(mm=st.floats(0, 10_000), graduation=st.sampled_from([None, SIXTY_FOURTHS]), unit=st.sampled_from(["in", "mm"]))
def test_every_reading_can_be_large_and_reads_back(mm: float, graduation: Graduation | None, unit: str) -> None:
    reading = show_length(mm, "mm" if unit == "mm" else "in", graduation)
    lines = large(reading, 1000, 5, plain=False)
    assert lines is not None and read(lines, plain=False) == reading


@given(
    text=of_the_font | st.text(max_size=30), columns=st.integers(1, 300), rows=st.integers(1, 20), plain=st.booleans()
)
def test_any_label_is_legible_within_the_room_or_is_left_to_ordinary_letters(
    text: str, columns: int, rows: int, plain: bool
) -> None:
    lines = large(text, columns, rows, plain=plain)
    if lines is not None:
        assert len(lines) <= rows and all(len(line) == len(lines[0]) <= columns for line in lines)
        assert read(lines, plain=plain) == spelled(text)
        return
    smallest = render(text, SINGLE if plain else COMPACT, plain=plain)
    assert smallest is None or len(smallest) > rows or len(smallest[0]) > columns


def test_the_form_is_the_largest_that_fits() -> None:
    for larger, smaller in pairwise(FORMS):
        fitting, smallest = (render("3 5/32 in", form, plain=False) for form in (larger, smaller))
        assert fitting is not None and smallest is not None
        room = len(fitting[0]), len(fitting)
        assert large("3 5/32 in", *room, plain=False) == fitting
        assert large("3 5/32 in", room[0], room[1] - 1, plain=False) != fitting
    single = render("3 5/32 in", SINGLE, plain=False)
    assert single is not None
    assert large("3 5/32 in", len(single[0]) - 1, 20, plain=False) is None


def test_where_three_rows_are_left_the_compact_form_is_taken_and_plain_signs_have_none() -> None:
    assert large("80.2 mm", 78, 3, plain=False) == render("80.2 mm", COMPACT, plain=False)
    assert large("80.2 mm", 78, 3, plain=True) is None


def test_letters_with_accents_are_set_as_their_base_letters() -> None:
    assert large("Türe à gauche", 200, 6, plain=False) == large("Ture a gauche", 200, 6, plain=False)


@pytest.mark.parametrize("text", ["引き出し", "Łódź", "price $3", "", "   ", "\N{COMBINING ACUTE ACCENT}"])
def test_a_text_with_a_sign_that_the_font_lacks_or_without_ink_is_not_set_at_all(text: str) -> None:
    assert large(text, 500, 50, plain=False) is None


def test_dashes_primes_and_curled_quotes_are_set_as_the_signs_that_they_are_like() -> None:
    assert spelled("−1⁄2″ ‘a’ “b”") == '-1/2" \'a\' "b"'
