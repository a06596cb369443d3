"""Lengths and slopes: read strictly from what people write, shown in their own unit and on their own scale.

Pint converts, but never sees what a person typed: it reads "1 3/8 inch" as 0.375 inch and "1,5 mm" as 15 mm.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from itertools import pairwise
from numbers import Real
from typing import TYPE_CHECKING, Literal
from unicodedata import decomposition, normalize

from coach.ground.errors import CoachError

if TYPE_CHECKING:
    from pint import UnitRegistry

Unit = Literal["in", "mm"]
_Kind = Literal["length", "slope"]
_MM_PER: dict[Unit, Fraction] = {"in": Fraction("25.4"), "mm": Fraction(1)}  # exact; NIST SP 811, App. B.8
_DECIMALS: dict[Unit, int] = {"in": 3, "mm": 2}
_SCALE_FRACTIONS = frozenset({1, 2, 4, 8, 16, 32, 64, 128})  # what inch rules are divided into
_LONGEST_MM = 10_000
_LONGEST_TEXT = 60
_NOTATIONS = {"length": '"5 mm", "4 7/32 in" or "1 ft 2 1/2 in"', "slope": '"1:8", "1:7.5" or "8 deg"'}
_WORDS = {
    "millimeter": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "centimeter": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "meter": ("m", "metre", "metres", "meter", "meters"),
    "inch": ("in", "in.", "inch", "inches", '"'),
    "foot": ("ft", "ft.", "foot", "feet", "'"),
}
_UNITS = {word: unit for unit, words in _WORDS.items() for word in words}
_NOT_UNITS = frozenset({"M", "Mm", "mM"})  # a capital M is mega or molar, so the millimetre is a guess
_SMALLER = {"foot": ("inch",), "meter": ("centimeter", "millimeter"), "centimeter": ("millimeter",)}
_SIGNS = str.maketrans("−‐‑–′’‘″”“⁄∕∶º˚", "----'''\"\"\"//:°°")
_MIXED = re.compile(r"(?:([0-9]+)(?:- ?| ))?([0-9]+) ?/ ?([0-9]+)")
_NUMBER = r"(?:(?:[0-9]+(?:- ?| ))?[0-9]+ ?/ ?[0-9]+|[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_PART = re.compile(rf"({_NUMBER}) ?([A-Za-z]+\.?|[\"'])? ?")
_DASH = re.compile("(?:(?<! )- ?|(?<= )- )(?=[0-9.])")  # with a blank before it alone it might take away
_RATIO = re.compile(rf"({_NUMBER}) ?(?::| in ) ?({_NUMBER})", re.IGNORECASE)
_ANGLE = re.compile(rf"({_NUMBER}) ?(?:°|degrees?|deg\.?)", re.IGNORECASE)
_NOT_FINITE = re.compile(r"[-+]? ?(?:nan|inf|∞)", re.IGNORECASE)
_EXPONENT = re.compile(r"[0-9]\.?e[-+]?[0-9]", re.IGNORECASE)
_THOUSANDS = re.compile(r"[0-9][ '_][0-9]{3}(?![0-9]| ?/)|[0-9]\.[0-9]+\.[0-9]|,")


@dataclass(frozen=True, slots=True)
class Graduation:
    """The smallest graduation of a fence's scale.

    Attributes:
        step_mm: from one line to the next, exact, more than 0.
        unit: in which the scale is read.
    """

    step_mm: Fraction
    unit: Unit


def parse_length(text: str, *, signed: bool = False) -> Fraction:
    """The length that `text` says, in mm, exact.

    Takes `4 7/32 in`, `4-7/32"`, `4.22 in`, `107 mm`, `10.7 cm`, `1 ft 2 1/2 in`, `1' 2-1/2"`, `1 m 20 cm`
    and the like; a leading sign only if `signed`. Zero is a length.

    Raises:
        CoachError: no unit, units that don't go together, anything not understood, or over 10 m.
    """
    return _parse(text, signed=signed)[0]


def parse_graduation(text: str) -> Graduation | None:
    """The graduation that `text` says, such as `1/32 in` or `0.5 mm`; None for `none`.

    Raises:
        CoachError: not a length, zero, or more than 1 in.
    """
    if text.strip().lower() == "none":
        return None
    step_mm, unit = _parse(text, signed=False)
    if not 0 < step_mm <= _MM_PER["in"]:
        raise _refusal(text, 'a graduation is more than 0 and at most 1 in, such as "1/32 in", or else "none"')
    return Graduation(step_mm, unit)


def parse_slope(text: str) -> float:
    """The slope that `text` says, as an angle in radians: `1:8`, `1 in 8`, `8 deg` or `8°`.

    A ratio a:b goes a across for b along, so its angle is arctan(a/b).

    Raises:
        CoachError: neither a ratio nor an angle, 0 or less, or 45° or more.
    """
    tidy = _tidied(text, "slope")
    if ratio := _RATIO.fullmatch(tidy):
        across, along = _number(text, ratio[1]), _number(text, ratio[2])
        if across == 0 or along == 0:
            raise _refusal(text, 'both numbers of a ratio must be more than 0, such as "1:8"')
        if across >= along:
            raise _refusal(text, 'write the small number first, such as "1:8"; a slope is less than 45°')
        return math.atan(across / along)
    if angle := _ANGLE.fullmatch(tidy):
        degrees = _number(text, angle[1])
        if not 0 < degrees < 45:
            raise _refusal(text, 'a slope must be more than 0° and less than 45°, such as "8 deg"')
        return math.radians(degrees)
    if tidy.startswith("-"):
        raise _refusal(text, 'a slope must be more than 0, such as "1:8" or "8 deg"')
    if re.fullmatch(_NUMBER, tidy):
        raise _refusal(text, 'a slope is a ratio, such as "1:8", or an angle with its unit, such as "8 deg"')
    raise _refusal(text, f"not understood as a slope; write it like {_NOTATIONS['slope']}")


def show_length(mm: float, unit: Unit, graduation: Graduation | None = None) -> str:
    """A finite `mm` as a person reads it, in `unit`, within 0.0005 in or 0.005 mm of the true value; on a
    scale within a tenth of a graduation.

    On a scale read in the same unit it is the nearest graduation and, where it matters, the rest to add or
    take off, in that unit: `3 5/32 in + 0.006`. A rest under a tenth of a graduation is nothing that a fence could be
    set to, and isn't shown. Otherwise it is a decimal: `3.312 in`, `84.14 mm`.
    """
    value = Fraction(mm) / _MM_PER[unit]
    places = _DECIMALS[unit]
    if graduation is None or graduation.unit != unit:
        return f"{_decimal(value, places, strip=unit == 'mm')} {unit}"
    step = graduation.step_mm / _MM_PER[unit]
    line = round(value / step) * step
    if unit == "in" and step.denominator in _SCALE_FRACTIONS:
        shown = _mixed(line)
    else:
        # A step such as 1/3 has no exact decimal: what the rounding leaves out goes to the rest.
        line = round(line, places + 1)
        shown = _decimal(line, places + 1, strip=True)
    rest = round(value - line, places)
    if rest == 0 or abs(rest) < step / 10:
        return f"{shown} {unit}"
    return f"{shown} {unit} {'+' if rest > 0 else '-'} {_decimal(abs(rest), places, strip=unit == 'mm')}"


def show_slope(radians: float) -> str:
    """A slope of more than 0 and less than a right angle as a ratio and an angle: `1:8 (7.1°)`."""
    ratio = _decimal(Fraction(1 / math.tan(radians)), 2, strip=True)
    return f"1:{ratio} ({math.degrees(radians):.1f}°)"


def as_mm(value: object) -> float:
    """What another program gives as a length, in mm: a Pint quantity of any registry, a text, or plain mm.

    Raises:
        CoachError: not a length, or not finite.
    """
    if isinstance(value, str):
        return float(parse_length(value, signed=True))
    name = type(value).__name__
    to = getattr(value, "to", None)
    try:
        magnitude = value if to is None else to("mm").magnitude
    except (AttributeError, TypeError, ValueError) as error:
        # Pint's errors of dimension and of unknown units are kinds of these.
        raise CoachError(f"{name}: not a length: {error}") from error
    plain = (int, float) if to is None else (Real, Decimal)
    if isinstance(magnitude, bool) or not isinstance(magnitude, plain):
        raise CoachError(f'{name}: a length is one Pint quantity, a number of mm or a text such as "5 mm"')
    try:
        mm = float(magnitude)
    except (OverflowError, ValueError):
        mm = math.inf
    if not math.isfinite(mm):
        raise CoachError(f"{name}: a length must be a finite number, such as 5 mm")
    return mm


@cache
def _registry() -> UnitRegistry[Fraction]:
    """The few units that lengths are written in; Pint's default registry takes a hundred times as long."""
    import pint

    registry: UnitRegistry[Fraction] = pint.UnitRegistry(None, non_int_type=Fraction)
    for definition in (
        "millimeter = [length] = mm",
        "centimeter = 10 * millimeter",
        "meter = 1000 * millimeter",
        "inch = 25.4 * millimeter",
        "foot = 12 * inch",
    ):
        registry.define(definition)
    return registry


def _parse(text: str, *, signed: bool) -> tuple[Fraction, Unit]:
    """The length in mm, and the unit of the system in which it is written."""
    tidy = _tidied(text, "length")
    sign = 1
    if tidy[0] in "+-":
        if not signed:
            raise _refusal(text, 'this length has no sign and can\'t be negative; write it like "5 mm"')
        sign = -1 if tidy[0] == "-" else 1
        tidy = tidy[1:].lstrip()
    parts = _parts(text, tidy)
    for (number, unit, word), (_, next_unit, next_word) in pairwise(parts):
        if next_unit not in _SMALLER.get(unit, ()):
            why = f"{_quoted(next_word)} can't follow {_quoted(word)} in one length"
            raise _refusal(text, f'{why}; use one unit, or the larger first, such as "1 ft 2 1/2 in"')
        if not number.isdecimal():
            raise _refusal(text, f"{_quoted(number)} must be whole, as a smaller unit follows it")
    quantity = _registry().Quantity
    mm = sum((quantity(_number(text, n), unit).to("mm").magnitude for n, unit, _ in parts), Fraction())
    if mm > _LONGEST_MM:
        raise _refusal(text, "a length here is at most 10 m; look at the number and at the unit")
    return sign * mm, "in" if parts[0][1] in ("inch", "foot") else "mm"


def _parts(text: str, tidy: str) -> list[tuple[str, str, str]]:
    """The numbers of a length, each with its unit as Pint names it and as written; at least one."""
    parts: list[tuple[str, str, str]] = []
    at = 0
    while at < len(tidy) or not parts:
        found = _PART.match(tidy, at)
        if found is None or (found[2] is None and found.end() < len(tidy)):
            raise _refusal(text, f"not understood as a length; write it like {_NOTATIONS['length']}")
        number, word = found[1], found[2]
        if word is None:
            what = f"{_quoted(number)} after {_quoted(parts[-1][2])}" if parts else "a length"
            raise _refusal(text, f'{what} needs a unit, such as "5 mm" or "3/16 in"')
        unit = None if word in _NOT_UNITS else _UNITS.get(word.lower())
        if unit is None:
            raise _refusal(text, f"{_quoted(word)} is no unit of length here; use mm, cm, m, in or ft")
        parts.append((number, unit, word))
        at = found.end()
        dash = _DASH.match(tidy, at) if unit == "foot" else None
        at = dash.end() if dash else at
    return parts


def _number(text: str, number: str) -> Fraction:
    """The value of a whole number, a decimal, a fraction or a mixed number found in `text`."""
    mixed = _MIXED.fullmatch(number)
    if mixed is None:
        return Fraction(number)
    whole, above, below = int(mixed[1] or 0), int(mixed[2]), int(mixed[3])
    if below == 0:
        raise _refusal(text, "the number below a fraction's line can't be 0, such as \"3/16\"")
    if mixed[1] is not None and above >= below:
        raise _refusal(text, f'{above}/{below} after a whole number must be less than 1, such as "1 1/4"')
    return whole + Fraction(above, below)


def _tidied(text: str, kind: _Kind) -> str:
    """`text` in plain spaces, quotes, dashes and fractions, without what no length or slope may hold."""
    like = f"write it like {_NOTATIONS[kind]}"
    if len(text.strip()) > _LONGEST_TEXT:
        raise _refusal(text, f"too long for a {kind}; {like}")
    # Without the spaces 4½ would become 41/2, and ½2 would become 1/22.
    plain = (f" {normalize('NFKC', s)} " if decomposition(s).startswith("<fraction>") else s for s in text)
    tidy = " ".join("".join(plain).split()).translate(_SIGNS).replace("''", '"')
    if not tidy:
        raise _refusal(text, f"a {kind} is missing; {like}")
    if any(sign.isnumeric() and not sign.isascii() for sign in tidy):
        raise _refusal(text, f"a {kind} takes the digits 0 to 9 only; {like}")
    if _NOT_FINITE.match(tidy):
        raise _refusal(text, f"a {kind} must be a finite number; {like}")
    if re.fullmatch("[^,]*,[0-9][^,]*", tidy):
        pointed = _quoted(tidy.replace(",", "."))
        raise _refusal(text, f"write {pointed} for a decimal; thousands take no separator")
    if _EXPONENT.search(tidy):
        raise _refusal(text, f"a {kind} has no exponent; {like}")
    if _THOUSANDS.search(tidy):
        raise _refusal(text, f"a {kind} has no commas and no thousands separators; {like}")
    return tidy


def _refusal(text: str, why: str) -> CoachError:
    return CoachError(f"{_quoted(text.strip())}: {why}")


def _quoted(text: str) -> str:
    """`text` in quotes, cut short, and with control and bidirectional characters made visible."""
    short = text if len(text) <= _LONGEST_TEXT else f"{text[: _LONGEST_TEXT // 2]}…"
    visible = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in short)
    return f"'{visible}'" if '"' in visible and "'" not in visible else f'"{visible}"'


def _decimal(value: Fraction, places: int, *, strip: bool) -> str:
    """`value` rounded to `places` decimals, without trailing zeros if `strip`; zero has no sign."""
    scaled = round(value * 10**places)
    whole, part = divmod(abs(scaled), 10**places)
    decimal = f"{'-' if scaled < 0 else ''}{whole}.{part:0{places}}"
    return decimal.rstrip("0").rstrip(".") if strip else decimal


def _mixed(value: Fraction) -> str:
    """`value` as a whole number and a reduced fraction, such as -3 5/32."""
    whole, part = divmod(abs(value), 1)
    words = ([str(whole)] if whole or not part else []) + ([str(part)] if part else [])
    return f"{'-' if value < 0 else ''}{' '.join(words)}"
