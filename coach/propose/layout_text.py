"""Layouts as the text of a file that `coach check` and `coach run` take."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from coach.ground.lengths import Unit
from coach.ground.names import LONGEST_NAME

_PLACES: dict[Unit, int] = {"mm": 4, "in": 6}
_MM: dict[Unit, float] = {"mm": 1.0, "in": 25.4}
_NOISE = 1e-5  # of the last place


def length_text(mm: float, unit: Unit) -> str:
    """A length as a file holds it, never less than `mm` and at most 0.1 µm more, so that sockets keep their kerf."""
    places = _PLACES[unit]
    return _decimal(math.ceil(mm / _MM[unit] * 10**places - _NOISE), places, unit)


def tolerance_text(mm: float, unit: Unit) -> str:
    """A length as a file holds it, never more than `mm`, with three figures that count."""
    value = mm / _MM[unit]
    places = 2 - math.floor(math.log10(value))
    return _decimal(math.floor(value * 10**places), places, unit)


def name_with(name: str, what: str) -> str:
    """`name, what`, with the name cut short if the two are too long for a name."""
    most = LONGEST_NAME - len(what) - 2
    short = name if len(name) <= most else f"{name[: most - 1].rstrip()}…"
    return f"{short}, {what}"


def layout_text(root: Mapping[str, Any], parts: Iterable[Mapping[str, Any]]) -> str:
    """A layout file with the keys `root` and a table for each of `parts`, whose end_A and end_B stand below it."""
    lines = [f"{key} = {_value(value)}" for key, value in root.items()]
    for part in parts:
        ends = {key: part[key] for key in ("end_A", "end_B") if key in part}
        lines += ["", "[[parts]]", *(f"{key} = {_value(value)}" for key, value in part.items() if key not in ends)]
        for key, own in ends.items():
            lines += ["", f"[parts.{key}]", *(f"{name} = {_value(value)}" for name, value in own.items())]
    return "\n".join(lines) + "\n"


def _value(value: object) -> str:
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {_value(item)}' for key, item in value.items())} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    return json.dumps(value, ensure_ascii=False)


def _decimal(scaled: int, places: int, unit: Unit) -> str:
    plain = f"{Decimal(scaled).scaleb(-places):f}"
    return f"{plain.rstrip('0').rstrip('.') if '.' in plain else plain} {unit}"
