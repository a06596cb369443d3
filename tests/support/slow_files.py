"""Texts up to the largest size that is read, each of which some way of reading would take very long over."""

from __future__ import annotations

from collections.abc import Callable, Mapping

_MB = 1_000_000
_HEAD = 'format = 1\nname = "x"\n'

TOML: Mapping[str, Callable[[], str]] = {
    "a key dotted 20,000 deep": lambda: "a" + ".a" * 20_000 + " = 1\n",
    "a quoted key dotted 20,000 deep": lambda: '"a"' + '."a"' * 20_000 + " = 1\n",
    "lists 20,000 deep": lambda: "a = " + "[" * 20_000 + "]" * 20_000,
    "tables 20,000 deep": lambda: "a = " + "{b = " * 20_000 + "1" + "}" * 20_000,
    "lists that are never closed": lambda: "a = " + "[" * _MB,
    "90,000 parts": lambda: "[[parts]]\n" * 90_000,
    "50,000 parts with a mistake each": lambda: _HEAD + "[[parts]]\nlabel = 1\n" * 50_000,
    "many unknown keys": lambda: "".join(f"k{number} = 1\n" for number in range(80_000)),
    "many quoted keys": lambda: "".join(f'"k{number}" = 1\n' for number in range(70_000)),
    "many keys with escapes": lambda: "".join(f'"\\u0041{number}" = 1\n' for number in range(50_000)),
    "many tables": lambda: "".join(f"[a{number}]\n" for number in range(100_000)),
    "many deep tables": lambda: "".join(f"[a.b.c.d.e.f.g.h.i{number}]\n" for number in range(40_000)),
    "a long comment": lambda: "#" + "x" * _MB,
    "empty lines": lambda: "\n" * _MB,
    "quotes": lambda: '"' * _MB,
    "quotes in threes": lambda: "a = " + '"""' * 300_000,
    "backslashes": lambda: 'a = "' + "\\\\" * 490_000,
    "a long key": lambda: "x" * (_MB - 5) + " = 1",
    "a long number": lambda: "a = " + "1" * (_MB - 5),
    "a long list": lambda: "a = [" + "1," * 450_000 + "]",
    "a long list of lengths": lambda: _HEAD + "[[parts]]\ntop_marks = [" + '"5 mm",' * 110_000 + "]",
    "a length of many words": lambda: _HEAD + '[[parts]]\nwidth = "' + "1 " * 400_000 + 'mm"',
    "a length of many fractions": lambda: _HEAD + '[[parts]]\nwidth = "' + "1/" * 400_000 + 'mm"',
    "a length of many blanks": lambda: _HEAD + '[[parts]]\nwidth = "' + " " * 900_000 + '5 mm"',
    "a slope of many parts": lambda: _HEAD + 'slope = "' + "1:" * 400_000 + '"',
    "inline tables": lambda: "a = [" + "{a=1,b=2}," * 90_000 + "]",
}

_EXPORT = (
    '{"format": 1, "kind": "coach-batch", "made_by": "c", "batch": "x", "started": "2031-03-04T09:30:00.000-05:00", '
    '"events": ['
)
_LARGE = 20_000_000
EXPORTS: Mapping[str, Callable[[], str]] = {
    "lists that are never closed": lambda: "[" * _LARGE,
    "a long list": lambda: "[" + "1," * (_LARGE // 2) + "1]",
    "blanks": lambda: " " * _LARGE,
    "a long text": lambda: '"' + "x" * _LARGE + '"',
    "a long line of events": lambda: _EXPORT + "1," * (_LARGE // 2) + "1]}",
    "many lines that are no events": lambda: _EXPORT + "\n" + "1,\n" * (_LARGE // 3),
    "the same event again and again": lambda: (
        _EXPORT
        + "\n"
        + '{"number": 1, "at": "2031-03-04T09:30:00.000-05:00", "kind": "x", "data": {}},\n' * (_LARGE // 80)
    ),
    "lists in a small file": lambda: "[" * 3_900_000,
    "tables in a small file": lambda: "[" + '{"a":1},' * 480_000 + "1]",
}
