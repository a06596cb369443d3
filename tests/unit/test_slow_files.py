"""Files that are made to be slow, or to say too much, are answered at once and briefly.

How long each may take: 2 s on a machine with two cores, which tests/bench/slow_files.py measures; here only what takes
minutes where it isn't guarded against is told from what doesn't.
"""

from __future__ import annotations

import time

import pytest
from support.plain_files import layout_text, shop_text
from support.slow_files import EXPORTS, TOML

from coach.ground.errors import MOST_PROBLEMS, CoachError
from coach.joint.files import parse_layout
from coach.propose.family_file import parse_family
from coach.record.disk.store import Store
from coach.record.exchange import import_batch
from coach.shop.files import parse_shop
from coach.toml.lines import too_deep

FAR_TOO_LONG_S = 20


@pytest.mark.parametrize("name", TOML)
def test_a_toml_file_is_refused_in_time(name: str) -> None:
    text = TOML[name]()[:1_000_000]
    begun = time.monotonic()
    for parse in (parse_layout, parse_shop, parse_family):
        with pytest.raises(CoachError) as caught:
            parse("f.toml", text)
        assert len(str(caught.value)) < 40_000
        assert len(caught.value.problems) <= MOST_PROBLEMS + 1
    assert time.monotonic() - begun < FAR_TOO_LONG_S


@pytest.mark.parametrize("name", EXPORTS)
def test_an_export_is_refused_in_time(name: str, store: Store) -> None:
    begun = time.monotonic()
    with pytest.raises(CoachError) as caught:
        import_batch(store, EXPORTS[name](), name=None)
    assert len(str(caught.value)) < 1000
    assert time.monotonic() - begun < FAR_TOO_LONG_S


def test_of_many_mistakes_fifty_are_said_and_the_others_counted() -> None:
    head, part = layout_text(part={"width": '"no length"'}).split("[[parts]]", 1)
    many = head + "".join("[[parts]]" + part.replace('label = "', f'label = "{number}') for number in range(300))
    with pytest.raises(CoachError) as caught:
        parse_layout("f.toml", many)
    *said, last = caught.value.problems
    assert len(said) == MOST_PROBLEMS == 50
    assert all("not a length" in problem or "length" in problem for problem in said)
    assert last == "and 250 more"


def test_any_error_says_fifty_and_counts_the_others() -> None:
    error = CoachError(*(f"problem {number}" for number in range(90_000)))
    assert error.problems[49:] == ("problem 49", "and 89,950 more")
    assert len(CoachError(*map(str, range(51))).problems) == 51


def test_more_tables_than_anybody_has_are_refused_unread() -> None:
    with pytest.raises(CoachError, match=r"parts: found 90,000 \[\[parts\]\] tables; expected at most 500"):
        parse_layout("f.toml", 'format = 1\nname = "x"\n' + "[[parts]]\n" * 90_000)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a" + ".a" * 21 + " = 1", 1),
        ("\n" + '"a"' + '."a"' * 25 + " = 1", 2),
        ("[a" + ".b" * 30 + "]", 1),
        ("x = " + "[" * 101 + "]" * 101, 1),
        ("x = 1\ny = " + "{a = " * 101 + "1" + "}" * 101, 2),
        ("a" + ".a" * 20 + " = 1", None),
        ("x = " + "[" * 100 + "]" * 100, None),
        ('x = "' + "." * 100 + "[" * 200 + '"', None),
        ("x = '" + "." * 100 + "'", None),
        ("x = '''" + ".\n" * 100 + "'''", None),
        ("# " + "." * 100 + "[" * 200, None),
        ("x = [" + "1.5, " * 200 + "]", None),
        ("x.a = 1.5\n" * 200, None),
        ("[[parts]]\n" * 200, None),
    ],
)
def test_how_deep_a_text_goes(text: str, line: int | None) -> None:
    assert too_deep(text) == line


def test_ordinary_files_are_read_as_ever() -> None:
    assert parse_layout("f.toml", layout_text()).parts
    assert parse_shop("f.toml", shop_text()).jigs
