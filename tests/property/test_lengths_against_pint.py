from __future__ import annotations

import math
import re
from fractions import Fraction

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from coach.ground.errors import CoachError
from coach.ground.lengths import (
    Graduation,
    Unit,
    as_mm,
    parse_graduation,
    parse_length,
    parse_slope,
    show_length,
    show_slope,
)

# Pint's own default definitions, in exact arithmetic: in floats its foot is 304.79999999999995 mm.
PINT: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)

WORDS = {
    "inch": ["in", "in.", "IN", "In", "inch", "inches", '"', "″", "”", "''"],
    "foot": ["ft", "ft.", "FT", "Ft", "foot", "feet", "'", "′", "’"],
    "millimeter": ["mm", "MM", "millimetre", "millimetres", "millimeter", "millimeters"],
    "centimeter": ["cm", "CM", "centimetre", "centimetres", "centimeter", "centimeters"],
    "meter": ["m", "metre", "metres", "meter", "meters"],
}
UNITS_TOGETHER = [
    *([unit] for unit in WORDS),
    ["foot", "inch"],
    ["meter", "centimeter"],
    ["meter", "millimeter"],
    ["centimeter", "millimeter"],
    ["meter", "centimeter", "millimeter"],
]
SPACES = st.sampled_from([" ", "  ", "\u00a0", "\u202f"])
MAYBE_SPACE = st.one_of(st.just(""), SPACES)


@st.composite
def wholes(draw: st.DrawFn) -> tuple[str, Fraction]:
    number = draw(st.integers(0, 30))
    return str(number), Fraction(number)


@st.composite
def decimals(draw: st.DrawFn) -> tuple[str, Fraction]:
    whole, part = (
        draw(st.sampled_from(["", "0", "3", "17"])),
        draw(st.text("0123456789", min_size=1, max_size=6)),
    )
    return f"{whole}.{part}", Fraction(int(whole + part), 10 ** len(part))


@st.composite
def fractions(draw: st.DrawFn) -> tuple[str, Fraction]:
    above, below = draw(st.integers(0, 200)), draw(st.integers(1, 200))
    return f"{above}{draw(st.sampled_from('/⁄'))}{below}", Fraction(above, below)


@st.composite
def mixed_numbers(draw: st.DrawFn) -> tuple[str, Fraction]:
    whole, below = draw(st.integers(0, 30)), draw(st.integers(1, 200))
    above = draw(st.integers(0, below - 1))
    join = draw(st.one_of(st.just("-"), st.just("‑"), SPACES))
    return f"{whole}{join}{above}{draw(st.sampled_from('/⁄'))}{below}", whole + Fraction(above, below)


@st.composite
def single_sign_fractions(draw: st.DrawFn) -> tuple[str, Fraction]:
    signs = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3"}
    sign = draw(st.sampled_from(sorted(signs)))
    whole, join = draw(st.sampled_from(["", "4", "11"])), draw(st.sampled_from(["", " ", "-"]))
    return f"{whole}{join if whole else ''}{sign}", int(whole or 0) + Fraction(signs[sign])


NUMBERS = st.one_of(wholes(), decimals(), fractions(), mixed_numbers(), single_sign_fractions())


@st.composite
def lengths(draw: st.DrawFn) -> tuple[str, Fraction]:
    """A length as a person might write it, and what Pint makes of its numbers and units, in mm."""
    units = draw(st.sampled_from(UNITS_TOGETHER))
    text, mm = "", Fraction()
    for unit in units:
        last = unit == units[-1]
        written, number = draw(NUMBERS if last else wholes())
        text += written + draw(MAYBE_SPACE) + draw(st.sampled_from(WORDS[unit]))
        text += "" if last else draw(SPACES)
        mm += PINT.Quantity(number, unit).to("mm").magnitude
    return text, mm


@given(lengths())
def test_every_notation_is_the_same_length_to_us_and_to_pint(length: tuple[str, Fraction]) -> None:
    text, mm = length
    if mm <= 10_000 and len(text) <= 60:
        assert parse_length(text) == mm
    else:
        with pytest.raises(CoachError):
            parse_length(text)


@given(lengths(), st.sampled_from(["-", "−", "- "]))
def test_a_minus_makes_the_same_length_negative(length: tuple[str, Fraction], minus: str) -> None:
    text, mm = length
    if mm <= 10_000 and len(text) <= 55:
        assert parse_length(minus + text, signed=True) == -mm


@given(st.fractions(0, 30), st.sampled_from(sorted(WORDS)))
def test_a_quantity_and_the_same_length_written_out_are_equal(number: Fraction, unit: str) -> None:
    quantity = PINT.Quantity(number, unit)
    text = f"{number.numerator}/{number.denominator} {unit}"
    if len(text) <= 60 and quantity.to("mm").magnitude <= 10_000:
        assert as_mm(quantity) == as_mm(text)


GRADUATIONS = st.one_of(
    st.none(),
    st.builds(
        lambda step, unit: Graduation(Fraction(step) * (Fraction("25.4") if unit == "in" else 1), unit),
        st.one_of(
            st.sampled_from(["1/8", "1/16", "1/32", "1/64", "1/128", "1/256", "1/50", "1/100", "1/10", "1/2", "1"]),
            st.fractions(Fraction(1, 1000), 1, max_denominator=1000),
        ),
        st.sampled_from(["in", "mm"]),
    ),
)
UNITS: st.SearchStrategy[Unit] = st.sampled_from(["in", "mm"])
POSITIONS = st.floats(-9_000, 9_000)


def read_back(shown: str) -> Fraction:
    """In mm, what a person makes of a shown length: the value, and the rest added or taken off."""
    found = re.fullmatch(r"(?P<value>-?[0-9 /.]+ (?P<unit>in|mm))(?: (?P<sign>[+-]) (?P<rest>[0-9.]+))?", shown)
    assert found is not None, shown
    mm = parse_length(found["value"], signed=True)
    if found["rest"] is None:
        return mm
    return mm + parse_length(f"{found['sign']}{found['rest']} {found['unit']}", signed=True)


@given(POSITIONS, UNITS, GRADUATIONS)
@example(84.1375, "in", None)
@example(-0.0004, "mm", Graduation(Fraction(1, 3), "mm"))
def test_a_shown_length_read_back_is_the_true_one(mm: float, unit: Unit, graduation: Graduation | None) -> None:
    """On a scale what is left over isn't shown under a tenth of a graduation: nobody could set it."""
    off = abs(read_back(show_length(mm, unit, graduation)) - Fraction(mm))
    shown = Fraction("0.0005") * Fraction("25.4") if unit == "in" else Fraction("0.005")
    unseen = graduation.step_mm / 10 if graduation is not None and graduation.unit == unit else Fraction()
    assert off <= shown + unseen


@given(POSITIONS, UNITS, GRADUATIONS)
def test_the_rest_is_never_more_than_half_a_graduation(mm: float, unit: Unit, graduation: Graduation | None) -> None:
    shown = show_length(mm, unit, graduation)
    if graduation is not None and graduation.unit == unit:
        value = re.split(r" [+-] ", shown)[0]
        off = abs(parse_length(value, signed=True) - Fraction(mm))
        # A line without an exact decimal is itself rounded by up to 0.00005 in or 0.0005 mm.
        assert off <= graduation.step_mm / 2 + (Fraction("0.00127") if unit == "in" else Fraction("0.0005"))


@given(st.floats(-0.02, 0.02), UNITS, GRADUATIONS)
def test_nothing_is_never_shown_as_less_than_nothing(mm: float, unit: Unit, graduation: Graduation | None) -> None:
    assert not re.match(r"-[0. ]+[a-z]", show_length(mm, unit, graduation))


@given(st.integers(-2_000, 2_000), st.sampled_from([8, 16, 32, 64]))
def test_a_length_on_a_line_of_the_scale_is_shown_without_a_rest(lines: int, to_the_inch: int) -> None:
    step = Fraction("25.4") / to_the_inch
    shown = show_length(float(lines * step), "in", Graduation(step, "in"))
    assert parse_length(shown, signed=True) == lines * step


@given(st.floats(0.01, 0.78))
def test_a_shown_slope_read_back_is_the_true_one_within_its_two_decimals(radians: float) -> None:
    ratio = show_slope(radians).split(" ")[0]
    # A ratio within 0.005 moves the angle by 0.005·sin²θ at most.
    assert math.atan(1 / float(ratio[2:])) == pytest.approx(radians, abs=0.0051 * math.sin(radians) ** 2)


NEARLY_LENGTHS = st.text(" 0123456789./-+'\"°:,eminfctdg½⅞⁄−′″\u00a0\x00\u202e٣", max_size=70)


@given(st.one_of(st.text(), NEARLY_LENGTHS))
def test_any_text_is_a_finite_length_or_a_readable_refusal(text: str) -> None:
    try:
        mm = parse_length(text, signed=True)
    except CoachError as error:
        (problem,) = error.problems
        assert problem.isprintable()
    else:
        assert abs(mm) <= 10_000


@given(st.one_of(st.text(), NEARLY_LENGTHS))
def test_any_text_is_a_possible_slope_or_a_readable_refusal(text: str) -> None:
    try:
        radians = parse_slope(text)
    except CoachError as error:
        (problem,) = error.problems
        assert problem.isprintable()
    else:
        assert 0 < radians <= math.pi / 4


@given(st.one_of(st.text(), NEARLY_LENGTHS))
def test_any_text_is_a_graduation_none_or_a_readable_refusal(text: str) -> None:
    try:
        graduation = parse_graduation(text)
    except CoachError as error:
        (problem,) = error.problems
        assert problem.isprintable()
    else:
        assert graduation is None or 0 < graduation.step_mm <= Fraction("25.4")
