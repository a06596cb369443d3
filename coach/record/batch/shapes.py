"""The form of each kind of event: what its data holds, of which types and within which bounds."""

from __future__ import annotations

import math
import re
import types
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass
from enum import StrEnum
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from coach.ground.lengths import Graduation, Unit
from coach.ground.terms import Edge, End, Face, Turn
from coach.joint.layout import MOST_TAILS, EndLayout, Layout
from coach.plan.job import Board
from coach.plan.judging.mistakes import Mistake, Verdict
from coach.plan.steps import BENCH_KINDS, StepKind
from coach.record import kinds
from coach.record.json_text import shown
from coach.record.kinds import RETURN, SETTINGS, START, UNDO
from coach.record.rows import Event
from coach.shop.tools import MOST_BLOCKS, Shop

Shape = Mapping[str, Any]
"""For each key of an event's data what it holds, as a type; a key that ends in `?` may be missing."""

_LARGEST = 1_000_000  # of any length in mm
_MOST = 1_000_000_000  # of anything that is counted
_LONGEST_TEXT = 1000
_RATIO = re.compile(r"[1-9]\d{0,8}(/[1-9]\d{0,8})?", re.ASCII)
_BOARD: Shape = {"number": int, "board": str}
_SERVING = list[tuple[End, int, Edge, int]]
_SETTINGS: Shape = {
    "fence_mm": list[float],
    "serves": list[_SERVING],
    "own?": dict[str, _SERVING],
    "smallest_first?": bool,
    "rigs?": list[int],
}
_BY_KIND: Mapping[str, Shape] = {
    START: {"layouts": list[Layout], "shop": Shop, "unit": Unit, "topics?": list[str], "name?": str},
    SETTINGS: _SETTINGS,
    RETURN: {},
    UNDO: {"number": int, "of": str, "reason?": str},
    StepKind.PREPARE: {"topic": str},
    StepKind.SET_FENCE: {"setting": int, "reading": str | None, "fence_mm?": float | None},
    StepKind.CHECK: {"setting": int, "mark_mm": float, "measured_mm": float | None},
    StepKind.CUT: {
        **_BOARD,
        "end": End,
        "tail": int,
        "faces": Edge,
        "edge": Edge,
        "face_up": Face,
        "turn": Turn | None,
        "setting": int,
        "mark_mm": float,
    },
    **{kind: {**_BOARD, "end": End} for kind in BENCH_KINDS},
    kinds.SPOIL: {**_BOARD, "spare": int | None, "reason": str, "relettered?": bool},
    kinds.DROP: {**_BOARD, "spare": int | None, "reason": str},
    kinds.LABEL: {**_BOARD, "label": str},
    kinds.ADD: {"boards": list[Board], "settings": _SETTINGS},
    kinds.MEND: {**_BOARD, "end": End, "joint": EndLayout, "settings": _SETTINGS},
    kinds.WRONG: {
        **_BOARD,
        "end": End,
        "tail": int,
        "faces": Edge,
        "mistake": Mistake,
        "off_mm": float,
        "verdict": Verdict,
    },
    **dict.fromkeys((kinds.ASIDE, kinds.TAKE_UP, kinds.SKIP, kinds.BOARD_FIRST), _BOARD),
    kinds.SETTING_FIRST: {"setting": int},
    kinds.SHOP: {"shop": Shop, "settings": _SETTINGS},
}
SHAPES: Mapping[str, Shape] = {kind: {**shape, "key?": int} for kind, shape in _BY_KIND.items()}
"""What the data of each kind of event holds; keys beyond these are let be."""

_ABOVE_ZERO = frozenset(
    {"boards", "width_mm", "widest_mm", "thickness_mm", "length_mm", "mates_with_mm", "kerf_mm", "leading_width_mm"}
)
_NOT_EMPTY = frozenset({"layouts", "parts", "fences", "jigs", "ends", "top_marks_mm", "bottom_marks_mm", "fence_mm"})
_PLAIN = {
    int: f"a whole number from 0 to {_MOST}",
    float: "a number that a length or an angle can have",
    str: f"at most {_LONGEST_TEXT} printable characters",
    bool: "true or false",
    types.NoneType: "null",
}


def misfit(event: Event) -> str | None:
    """What is wrong with the form of an event's data, or None; of a kind that isn't known nothing can be said."""
    shape = SHAPES.get(event.kind)
    if shape is None or _fits_at_once(event.kind, event.data):
        return None
    return next(_misfits(event.data, shape, ""), None)


def _fits_at_once(kind: str, data: Mapping[str, Any]) -> bool:
    """Whether the data is plainly of its form, told quickly, since records have many; if not, it may be all the same.

    Only kinds whose data is flat are looked at here.
    """
    quick = _quick(kind)
    if quick is None or not isinstance(data, dict):
        return False
    required, checks = quick
    for key in required:
        if key not in data:
            return False
    for key, value in data.items():
        check = checks.get(key)
        if check is not None and not check(value):
            return False
    return True


@cache
def _quick(kind: str) -> tuple[tuple[str, ...], Mapping[str, Callable[[Any], bool]]] | None:
    """The keys that must be there and the check of each key, or None for a kind whose data isn't flat."""
    keys = list(_keys(SHAPES[kind]))
    checks = {key: _quick_check(key, hint) for key, hint, _ in keys}
    if any(check is None for check in checks.values()):
        return None
    return tuple(key for key, _, required in keys if required), {key: one for key, one in checks.items() if one}


def _quick_check(key: str, hint: Any) -> Callable[[Any], bool] | None:
    if key in _ABOVE_ZERO or key in ("count", "slope"):
        return None
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType) and types.NoneType in inner and len(inner) == 2:
        one = _quick_check(key, next(hint for hint in inner if hint is not types.NoneType))
        return None if one is None else lambda value: value is None or one(value)
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        words = frozenset(member.value for member in hint)
        return lambda value: type(value) is str and value in words
    return _QUICK.get(hint) if isinstance(hint, type) else None


_QUICK: Mapping[Any, Callable[[Any], bool]] = {
    int: lambda value: type(value) is int and 0 <= value <= _MOST,
    float: lambda value: _number_above(value, -_LARGEST),
    str: lambda value: type(value) is str and len(value) <= _LONGEST_TEXT and value.isprintable(),
    bool: lambda value: type(value) is bool,
}


def _misfits(value: object, hint: Any, where: str) -> Iterator[str]:
    """What in `value`, as JSON holds it, isn't as the type `hint` says, each with the key where it stands."""
    if hint is Graduation:
        if not isinstance(value, list) or len(value) != 2 or not _RATIO.fullmatch(str(value[0])):
            yield _wrong(where, value, 'a ratio in mm and a unit, such as ["127/160", "in"]')
            return
        hint = tuple[str, Unit]
    key = where.rpartition(".")[2]
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        if all(any(_misfits(value, one, where)) for one in inner):
            if value is None or isinstance(value, (dict, list)):
                yield from _misfits(value, inner[0], where)
            else:
                yield _wrong(where, value, " or ".join(_said(one) for one in inner))
    elif isinstance(hint, Mapping) or is_dataclass(hint):
        yield from _misfits_of_keys(value, hint, where)
    elif origin is tuple and inner[-1] is not Ellipsis:
        if not isinstance(value, list) or len(value) != len(inner):
            yield _wrong(where, value, f"a list of {len(inner)}")
            return
        for index, (item, one) in enumerate(zip(value, inner, strict=True)):
            yield from _misfits(item, one, f"{where}[{index + 1}]")
    elif origin in (tuple, list):
        if not isinstance(value, list) or (key in _NOT_EMPTY and not value):
            yield _wrong(where, value, "a list" if key not in _NOT_EMPTY else "a list that isn't empty")
            return
        for index, item in enumerate(value):
            yield from _misfits(item, inner[0], f"{where}[{index + 1}]")
    elif origin is not None and origin is not Literal:  # a mapping
        if not isinstance(value, dict) or (key in _NOT_EMPTY and not value):
            yield _wrong(where, value, "a table of keys and values")
            return
        for name, item in value.items():
            yield from _misfits(name, inner[0], where)
            yield from _misfits(item, inner[1], f"{where}.{name}")
    elif key == "count" and not (type(value) is int and 0 < value <= MOST_BLOCKS):
        yield _wrong(where, value, f"a whole number from 1 to {MOST_BLOCKS}")
    elif not _is_plain(value, hint) or (key in _ABOVE_ZERO and not _number_above(value, 0.0)):
        yield _wrong(where, value, _said(hint) + (" above 0" if key in _ABOVE_ZERO else ""))
    elif key == "slope" and value is not None and not (_number_above(value, 0.0) and _under_45(value)):
        yield _wrong(where, value, "a slope in radians, more than 0 and less than 45°")


def _misfits_of_keys(value: object, hint: Any, where: str) -> Iterator[str]:
    if not isinstance(value, dict):
        yield _wrong(where, value, "a table of keys and values")
        return
    for key, one, required in _keys(hint):
        inside = f"{where}.{key}" if where else key
        if key in value:
            yield from _misfits(value[key], one, inside)
        elif required:
            yield f"{inside} is missing; expected {_said(one)}"
    known = [key for key, _, _ in _keys(hint)]
    if is_dataclass(hint) and (strange := [key for key in value if key not in known]):
        yield f"{where}: found the key {shown(strange[0])}; expected only {', '.join(known)}"
    if hint is EndLayout:
        tops, bottoms = value.get("top_marks_mm"), value.get("bottom_marks_mm")
        if isinstance(tops, list) and isinstance(bottoms, list) and not len(tops) == len(bottoms) <= MOST_TAILS:
            yield (
                f"{where}: found {len(tops)} marks from the top edge and {len(bottoms)} from the bottom edge; "
                f"expected as many of each, at most {MOST_TAILS}"
            )


def _keys(hint: Any) -> Iterable[tuple[str, Any, bool]]:
    if isinstance(hint, Mapping):
        return [(key.rstrip("?"), one, not key.endswith("?")) for key, one in hint.items()]
    hints = get_type_hints(hint)
    return [
        (field.name, hints[field.name], field.default is MISSING and field.default_factory is MISSING)
        for field in fields(hint)
    ]


def _is_plain(value: object, hint: Any) -> bool:
    if get_origin(hint) is Literal:
        return isinstance(value, str) and value in get_args(hint)
    if issubclass(hint, StrEnum):
        return isinstance(value, str) and value in [one.value for one in hint]
    if hint is float:
        return _number_above(value, -_LARGEST)
    if hint is int:
        return type(value) is int and 0 <= value <= _MOST
    if hint is str:
        return isinstance(value, str) and len(value) <= _LONGEST_TEXT and value.isprintable()
    return type(value) is hint


def _number_above(value: object, limit: float) -> bool:
    return isinstance(value, (int, float)) and type(value) is not bool and limit < value <= _LARGEST


def _under_45(slope: object) -> bool:
    return isinstance(slope, (int, float)) and slope < math.pi / 4


def _said(hint: Any) -> str:
    if isinstance(hint, Mapping):
        return "a table of keys and values"
    if get_origin(hint) is Literal:
        return " or ".join(f'"{one}"' for one in get_args(hint))
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return " or ".join(f'"{one.value}"' for one in hint)
    return _PLAIN.get(hint, "a list or a table")


def _wrong(where: str, value: object, expected: str) -> str:
    return f"{where}: found {shown(value)}; expected {expected}"
