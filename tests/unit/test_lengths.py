from __future__ import annotations

import math
import subprocess
import sys
from dataclasses import FrozenInstanceError
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pint
import pytest

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

INCH = Fraction("25.4")  # NIST SP 811, Appendix B.8 (from memory)


def problem_of(text: str) -> str:
    with pytest.raises(CoachError) as caught:
        parse_length(text)
    (problem,) = caught.value.problems
    return problem


def slope_problem_of(text: str) -> str:
    with pytest.raises(CoachError) as caught:
        parse_slope(text)
    (problem,) = caught.value.problems
    return problem


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("4 7/32 in", "135/32"),
        ('4-7/32"', "135/32"),
        ('7/32"', "7/32"),
        ("5/4 in", "5/4"),
        ("4.22 in", "4.22"),
        (".5 in", "1/2"),
        ("5in", "5"),
        ("5 inch", "5"),
        ("5 inches", "5"),
        ("5 in.", "5"),
        ("5 In", "5"),
        ("5 IN", "5"),
        ("1 ft 2 1/2 in", "29/2"),
        ("1 ft. 2-1/2 in.", "29/2"),
        ("1ft2in", "14"),
        ("1 foot 2 inches", "14"),
        ("2 feet", "24"),
        ("2 ft", "24"),
        ("1 1/2 ft", "18"),
        ("1.5 ft", "18"),
        ("1'", "12"),
        ("1' 6\"", "18"),
        ("1' 2-1/2\"", "29/2"),
        ("7' - 15\"", "99"),
        ("1' - 2 1/2\"", "29/2"),
        ("7'- 15\"", "99"),
        ("1'2-1/2\"", "29/2"),
        ("1'-2 1/2\"", "29/2"),
        ("1' 2.5\"", "29/2"),
        ("0-1/2 in", "1/2"),
        ("3 / 4 in", "3/4"),
    ],
)
def test_inches_and_feet_are_read_exactly(text: str, inches: str) -> None:
    assert parse_length(text) == Fraction(inches) * INCH


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("107 mm", "107"),
        ("107mm", "107"),
        ("107 MM", "107"),
        ("0.1 mm", "1/10"),
        ("1/3 mm", "1/3"),
        ("10.7 cm", "107"),
        ("10.7 CM", "107"),
        ("1 m", "1000"),
        ("1 m 20 cm", "1200"),
        ("1 m 20 cm 5.5 mm", "1205.5"),
        ("1 m 5 mm", "1005"),
        ("5 millimetres", "5"),
        ("5 Millimeter", "5"),
        ("5 centimetres", "50"),
        ("1 metre", "1000"),
        ("1 meter", "1000"),
        ("0 mm", "0"),
        ("10 m", "10000"),
        ("  5 mm\n", "5"),
    ],
)
def test_metric_lengths_are_read_exactly(text: str, mm: str) -> None:
    assert parse_length(text) == Fraction(mm)


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("½ in", "1/2 in"),
        ("4½ in", "4 1/2 in"),
        ("4 ½ in", "4 1/2 in"),
        ("4-⅞″", '4-7/8"'),
        ("1′ 2⅜″", "1' 2 3/8\""),
        ("1’ 2”", "1' 2\""),
        ("1‘ 2“", "1' 2\""),
        ("1'-½\"", "1' 1/2\""),
        ("5''", '5"'),
        ("4 7⁄32 in", "4 7/32 in"),
        ("4\u00a07/32\u202fin", "4 7/32 in"),
        ("4‑7/32 in", "4-7/32 in"),
        ("4–7/32 in", "4-7/32 in"),
    ],
)
def test_typographic_signs_read_like_plain_ones(text: str, plain: str) -> None:
    assert parse_length(text) == parse_length(plain)


@pytest.mark.parametrize(
    ("text", "mm"),
    [("-5 mm", -5), ("− 5 mm", -5), ("+5 mm", 5), ("5 mm", 5), ("-0 mm", 0), ("-1' 1\"", -13 * INCH)],
)
def test_a_sign_counts_where_it_is_asked_for(text: str, mm: Fraction) -> None:
    assert parse_length(text, signed=True) == mm


def test_a_length_without_a_unit_is_told_what_a_unit_looks_like() -> None:
    assert problem_of("5") == '"5": a length needs a unit, such as "5 mm" or "3/16 in"'


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("3/16", "a length needs a unit"),
        ("1' 6", '"6" after "\'" needs a unit'),
        ("nan mm", "must be a finite number"),
        ("NaN", "must be a finite number"),
        ("inf mm", "must be a finite number"),
        ("-Infinity in", "must be a finite number"),
        ("∞ mm", "must be a finite number"),
        ("-5 mm", "can't be negative"),
        ("−5 mm", "can't be negative"),
        ("+5 mm", "has no sign"),
        ("1 3/0 in", "can't be 0"),
        ("0/0 mm", "can't be 0"),
        ("1 5/4 in", "5/4 after a whole number must be less than 1"),
        ("1 4/4 in", "4/4 after a whole number must be less than 1"),
        ("1 in 5 mm", '"mm" can\'t follow "in"'),
        ("5 mm 1 in", '"in" can\'t follow "mm"'),
        ("2 in 1 ft", '"ft" can\'t follow "in"'),
        ("1 ft 1 ft", '"ft" can\'t follow "ft"'),
        ("1 m 2 in", '"in" can\'t follow "m"'),
        ("1.5 ft 2 in", '"1.5" must be whole'),
        ("1 1/2 ft 2 in", '"1 1/2" must be whole'),
        ("1,5 mm", 'write "1.5 mm"'),
        (",5 mm", 'write ".5 mm"'),
        ("1,500 mm", "thousands take no separator"),
        ("1 ft, 2 in", "no commas"),
        ("1,234,567 mm", "no thousands separators"),
        ("1.234.567 mm", "no thousands separators"),
        ("1 500 mm", "no thousands separators"),
        ("1'500 mm", "no thousands separators"),
        ("1'500\"", "no thousands separators"),
        ("1_500 mm", "no thousands separators"),
        ("10.001 m", "at most 10 m"),
        ("33 ft", "at most 10 m"),
        ("", "a length is missing"),
        (" \t ", "a length is missing"),
        ("1e3 mm", "no exponent"),
        ("1E-3 mm", "no exponent"),
        ("٣ mm", "the digits 0 to 9 only"),
        ("５ mm", "the digits 0 to 9 only"),
        ("5² mm", "the digits 0 to 9 only"),
        ("5 deg", '"deg" is no unit of length'),
        ("5 M", '"M" is no unit of length'),
        ("5 Mm", '"Mm" is no unit of length'),
        ("0x10 mm", '"x" is no unit of length'),
        ("mm", "not understood"),
        ("5 6 mm", "not understood"),
        ("1 2 1/2 in", "not understood"),
        ("5. mm", "not understood"),
        ("1/2/3 in", "not understood"),
        ("1.1/2 in", "not understood"),
        ("½½ in", "not understood"),
        ("½2 in", "not understood"),
        ("1⁄½ in", "not understood"),
        ("5 - 3 mm", "not understood"),
        ("4 -7/32 in", "not understood"),
        ("1 ft -2 in", "not understood"),
        ("5 mm + 0.2", "not understood"),
        ("5 mm;", "not understood"),
        ("[red]5 mm", "not understood"),
    ],
)
def test_what_is_not_one_length_is_refused_with_what_was_found_and_why(text: str, why: str) -> None:
    problem = problem_of(text)
    assert text.strip() in problem
    assert why in problem


@pytest.mark.parametrize("text", ["-", "+", "--5 mm", "+-5 mm", "- nan mm", "5 -mm", "-11 m"])
def test_a_sign_alone_or_doubled_is_refused_even_where_signs_count(text: str) -> None:
    with pytest.raises(CoachError):
        parse_length(text, signed=True)


def test_a_text_that_is_too_long_is_refused_and_quoted_in_short() -> None:
    problem = problem_of("1" * 100_000 + " mm")
    assert "too long" in problem
    assert len(problem) < 200


def test_a_text_of_sixty_signs_is_still_read() -> None:
    assert parse_length("0" * 56 + "5 mm") == 5


def test_control_and_bidirectional_signs_are_made_visible_in_messages() -> None:
    assert r"5\x1b\u202e mm" in problem_of("5\x1b\u202e mm")


def test_a_message_quotes_an_inch_mark_without_confusing_it_with_its_own_quotes() -> None:
    assert problem_of('1/0"').startswith("'1/0\"': ")


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        # Arctangents from an independent computation, to six places.
        ("1:8", 7.125016),
        ("1:6", 9.462322),
        ("1:5", 11.309932),
        ("1:7", 8.130102),
        ("1:4", 14.036243),
        ("1 : 8", 7.125016),
        ("1∶8", 7.125016),
        ("1 in 8", 7.125016),
        ("2:16", 7.125016),
        # 3 in by 5/8 in: Noyes, Handwork in Wood (1910), ch. VII no. 48; the angle computed.
        ("5/8:3", 11.768289),
        ("8 deg", 8),
        ("8 Degrees", 8),
        ("8°", 8),
        ("8º", 8),
        ("7.125 degrees", 7.125),
        ("7 1/2 °", 7.5),
        ("½°", 0.5),
    ],
)
def test_slopes_are_read_as_angles(text: str, degrees: float) -> None:
    assert math.degrees(parse_slope(text)) == pytest.approx(degrees, abs=5e-7)


def test_a_ratio_of_whole_numbers_is_its_arctangent_to_the_last_digit() -> None:
    assert parse_slope("1:8") == math.atan(1 / 8)


def test_a_ratio_may_have_decimals() -> None:
    assert parse_slope("1:7.5") == math.atan(1 / 7.5)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("8", 'a ratio, such as "1:8"'),
        ("7.5", 'a ratio, such as "1:8"'),
        ("8:1", "write the small number first"),
        ("1:1", "less than 45°"),
        ("1:0", "more than 0"),
        ("0:8", "more than 0"),
        ("1:1/0", "can't be 0"),
        ("45°", "less than 45°"),
        ("90 deg", "less than 45°"),
        ("0 deg", "more than 0°"),
        ("-8 deg", "more than 0"),
        ("−1:8", "more than 0"),
        ("nan", "must be a finite number"),
        ("inf deg", "must be a finite number"),
        ("1:7,5", 'write "1:7.5"'),
        ("1:1e3", "no exponent"),
        ("1:", "not understood"),
        ("1:-8", "not understood"),
        ("1:nan", "not understood"),
        ("8 rad", "not understood"),
        ("1:2:3", "not understood"),
        ("5 mm", "not understood"),
        ("", "a slope is missing"),
        ("1:" + "8" * 100, "too long"),
    ],
)
def test_what_is_no_slope_is_refused_with_the_reason(text: str, why: str) -> None:
    assert why in slope_problem_of(text)


@pytest.mark.parametrize(
    ("text", "step_mm", "unit"),
    [
        ("1/32 in", Fraction("25.4") / 32, "in"),
        ('1/64"', Fraction("25.4") / 64, "in"),
        ("0.01 in", Fraction("0.254"), "in"),
        ("1 in", Fraction("25.4"), "in"),
        ("0.5 mm", Fraction(1, 2), "mm"),
        ("0.1 cm", Fraction(1), "mm"),
        ("25.4 mm", Fraction("25.4"), "mm"),
    ],
)
def test_a_graduation_keeps_its_exact_step_and_its_unit(text: str, step_mm: Fraction, unit: Unit) -> None:
    assert parse_graduation(text) == Graduation(step_mm, unit)


@pytest.mark.parametrize("text", ["none", " None "])
def test_a_fence_without_a_scale_has_no_graduation(text: str) -> None:
    assert parse_graduation(text) is None


@pytest.mark.parametrize("text", ["0 mm", "0 in", "1 1/32 in", "25.5 mm", "-1 mm", "1/32", "", "no"])
def test_what_is_no_graduation_is_refused(text: str) -> None:
    with pytest.raises(CoachError):
        parse_graduation(text)


def test_a_graduation_cannot_be_changed() -> None:
    graduation = Graduation(Fraction(1), "mm")
    with pytest.raises(FrozenInstanceError):
        graduation.unit = "in"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("mm", "scale", "shown"),
    [
        (80.16875, "1/32 in", "3 5/32 in"),
        (80.16875 + 0.1524, "1/32 in", "3 5/32 in + 0.006"),
        (80.16875 - 0.1524, "1/32 in", "3 5/32 in - 0.006"),
        (80.16875 + 0.254, "1/32 in", "3 5/32 in + 0.010"),
        (80.16875 + 0.012, "1/32 in", "3 5/32 in"),
        (76.2, "1/32 in", "3 in"),
        (12.7, "1/32 in", "1/2 in"),
        (0, "1/32 in", "0 in"),
        (0.1, "1/32 in", "0 in + 0.004"),
        (-0.1, "1/32 in", "0 in - 0.004"),
        (-0.001, "1/32 in", "0 in"),
        (-1.5875, "1/16 in", "-1/16 in"),
        (-80.16875, "1/32 in", "-3 5/32 in"),
        (-80.16875 + 0.1524, "1/32 in", "-3 5/32 in + 0.006"),
        (84.074, "0.01 in", "3.31 in"),
        (84.1375, "1/50 in", "3.32 in - 0.007"),
        (25.4 / 3, "1/3 in", "0.3333 in"),
        (25.4 / 3, "1/12 in", "0.3333 in"),
    ],
)
def test_inches_are_shown_at_the_nearest_line_of_an_inch_scale(mm: float, scale: str, shown: str) -> None:
    assert show_length(mm, "in", parse_graduation(scale)) == shown


@pytest.mark.parametrize(
    ("mm", "scale", "shown"),
    [
        (84.5, "0.5 mm", "84.5 mm"),
        (80, "0.5 mm", "80 mm"),
        (80.2, "0.5 mm", "80 mm + 0.2"),
        (79.87, "0.5 mm", "80 mm - 0.13"),
        (80.004, "0.5 mm", "80 mm"),
        (100, "1 mm", "100 mm"),
        (-0.2, "1 mm", "0 mm - 0.2"),
        (-0.2, "0.1 mm", "-0.2 mm"),
        (-0.001, "0.1 mm", "0 mm"),
        (1 / 3, "1/3 mm", "0.333 mm"),
    ],
)
def test_mm_are_shown_at_the_nearest_line_of_a_metric_scale(mm: float, scale: str, shown: str) -> None:
    assert show_length(mm, "mm", parse_graduation(scale)) == shown


@pytest.mark.parametrize(
    ("mm", "unit", "shown"),
    [
        (84.1375, "mm", "84.14 mm"),
        (84.0, "mm", "84 mm"),
        (84.1, "mm", "84.1 mm"),
        (100, "mm", "100 mm"),
        (0, "mm", "0 mm"),
        (-0.2, "mm", "-0.2 mm"),
        (-0.001, "mm", "0 mm"),
        (-0.0, "mm", "0 mm"),
        (84.12, "in", "3.312 in"),
        (25.4, "in", "1.000 in"),
        (-1.5875, "in", "-0.062 in"),
        (-0.001, "in", "0.000 in"),
    ],
)
def test_without_a_scale_a_length_is_a_decimal(mm: float, unit: Unit, shown: str) -> None:
    assert show_length(mm, unit) == shown


def test_a_scale_in_the_other_unit_is_no_scale() -> None:
    assert show_length(80.2, "mm", parse_graduation("1/32 in")) == "80.2 mm"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("1:8", "1:8 (7.1°)"),
        ("1:10", "1:10 (5.7°)"),
        ("1:7.5", "1:7.5 (7.6°)"),
        # 7° and 14° as ratios from an independent computation: 1:8.14435 and 1:4.01078.
        ("7 deg", "1:8.14 (7.0°)"),
        ("14°", "1:4.01 (14.0°)"),
    ],
)
def test_a_slope_is_shown_as_a_ratio_and_an_angle(text: str, shown: str) -> None:
    assert show_slope(parse_slope(text)) == shown


@pytest.mark.parametrize(
    ("value", "mm"),
    [(5, 5.0), (5.5, 5.5), (-0.2, -0.2), ("1/2 in", 12.7), ("-0.2 mm", -0.2), (0, 0.0)],
)
def test_numbers_are_mm_and_texts_are_lengths_to_other_programs(value: object, mm: float) -> None:
    assert as_mm(value) == mm


@pytest.mark.parametrize("number_type", [float, Fraction, Decimal])
def test_quantities_of_any_pint_registry_are_lengths(number_type: type) -> None:
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(non_int_type=number_type)
    assert as_mm(registry.Quantity(number_type(3), "inch")) == pytest.approx(76.2)


def test_a_quantity_of_an_own_small_registry_is_a_length() -> None:
    registry: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    registry.define("mm = [length]")
    registry.define("ell = 1143 * mm")
    assert as_mm(registry.Quantity(2, "ell")) == 2286


@pytest.mark.parametrize(
    "value",
    [
        None,
        True,
        b"5 mm",
        [5],
        1j,
        math.nan,
        math.inf,
        10**400,
        "5",
        "nan mm",
        Fraction(1, 2),
    ],
)
def test_what_is_no_length_is_refused_from_other_programs_too(value: object) -> None:
    with pytest.raises(CoachError):
        as_mm(value)


@pytest.mark.parametrize(
    ("magnitude", "unit"),
    [(3, "kilogram"), (3, ""), (3, "inch**2"), (3, "degC"), (math.nan, "mm"), (math.inf, "inch"), (1j, "mm")],
)
def test_a_quantity_that_is_no_finite_length_is_refused(magnitude: complex, unit: str) -> None:
    quantity = pint.UnitRegistry().Quantity(magnitude, unit)
    with pytest.raises(CoachError):
        as_mm(quantity)


def test_a_quantity_whose_registry_has_no_mm_is_refused() -> None:
    registry: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    registry.define("ell = [length]")
    with pytest.raises(CoachError, match="not a length"):
        as_mm(registry.Quantity(2, "ell"))


def run_and_list_pint(code: str) -> str:
    script = f"import sys\nfrom coach.ground.lengths import *\n{code}\nprint('pint' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_showing_lengths_and_reading_slopes_does_not_load_pint() -> None:
    code = "show_length(80.0, 'in', Graduation(Fraction(1), 'in')); show_slope(parse_slope('1:8')); as_mm(5)"
    assert run_and_list_pint(code) == "False"


def test_reading_a_length_loads_pint_but_not_its_default_registry() -> None:
    code = "parse_length('5 mm')\nimport pint\nassert '_units' not in vars(pint.application_registry.get())"
    assert run_and_list_pint(code) == "True"
