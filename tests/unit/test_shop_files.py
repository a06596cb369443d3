"""Shop files: what they may hold, and what is said about every mistake in one."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from support.plain_files import FENCE, JIG, Keys, keys, layout_text, line_of, shop_text

from coach.ground.errors import CoachError
from coach.ground.lengths import Graduation
from coach.ground.places import sample_layouts_folder
from coach.ground.terms import Hand
from coach.shop.files import parse_shop, read_shop
from coach.shop.tools import Shop


def parsed(*, saw: Keys | None = None, fence: Keys | None = None, jig: Keys | None = None, more: str = "") -> Shop:
    return parse_shop("shop.toml", shop_text(saw=saw, fence=fence, jig=jig) + more)


def refused(text: str) -> tuple[str, ...]:
    with pytest.raises(CoachError) as caught:
        parse_shop("shop.toml", text)
    return caught.value.problems


def refusal(*, saw: Keys | None = None, fence: Keys | None = None, jig: Keys | None = None) -> str:
    """The one thing that is said to be wrong."""
    (problem,) = refused(shop_text(saw=saw, fence=fence, jig=jig))
    return problem


def test_a_saw_is_read_in_full() -> None:
    saw = parsed(saw={"backing_out": '"as trained"'}).saw
    assert (saw.kerf_mm, saw.column_side, saw.throat_mm, saw.backing_out) == (0.9, Hand.LEFT, 345.0, "as trained")


def test_without_a_word_the_saw_is_stopped_before_drawing_back() -> None:
    assert parsed().saw.backing_out == "stopped"


def test_a_fence_is_read_in_full() -> None:
    fence = parsed(fence={"scale": '"1/32 in"', "zero": '"-1.5 mm"', "body": '"40 mm"', "min": '"2 mm"'}).fence
    assert (fence.side, fence.min_mm, fence.max_mm, fence.front_mm) == (Hand.RIGHT, 2.0, 300.0, 200.0)
    assert (fence.body_mm, fence.zero_mm) == (40.0, -1.5)
    assert fence.graduation == Graduation(Fraction("25.4") / 32, "in")


def test_a_fence_may_have_no_scale() -> None:
    assert parsed().fence.graduation is None
    assert parsed().unit == "mm"


def test_a_fence_needs_neither_min_nor_front_nor_zero_nor_body() -> None:
    fence = parsed(fence={"min": None, "front": None}).fence
    assert (fence.min_mm, fence.front_mm, fence.zero_mm, fence.body_mm) == (0.0, 0.0, 0.0, 0.0)


def test_a_jig_is_read_in_full() -> None:
    jig = parsed(jig={"leading_end": '"narrow"'}).jig
    assert (jig.name, jig.leading_width_mm, jig.wide_leads, jig.length_mm, jig.thickness_mm) == (
        "one in eight",
        80.0,
        False,
        330.0,
        9.0,
    )
    assert jig.slope == pytest.approx(math.atan(1 / 8), abs=1e-15)


def test_without_a_word_the_wide_end_leads() -> None:
    assert parsed().jig.wide_leads


def test_the_first_fence_and_the_first_jig_are_the_ones_in_use() -> None:
    fence, jig = keys(FENCE, {"side": '"left"'}), keys(JIG, {"name": '"steep"', "slope": '"1:6"'})
    shop = parsed(more=f"[[fences]]\n{fence}[[jigs]]\n{jig}")
    assert (len(shop.fences), len(shop.jigs)) == (2, 2)
    assert (shop.fence.side, shop.jig.name) == (Hand.RIGHT, "one in eight")


@pytest.mark.parametrize(("file", "unit"), [("shop-mm.toml", "mm"), ("shop-inches.toml", "in")])
def test_the_sample_shops_are_sound(file: str, unit: str) -> None:
    assert read_shop(sample_layouts_folder() / file).unit == unit


def test_a_shop_read_as_the_sample_says_so() -> None:
    assert read_shop(sample_layouts_folder() / "shop-mm.toml", sample=True).sample
    assert not parsed().sample


def test_a_mistake_names_file_line_key_what_was_found_and_what_would_be_right() -> None:
    text = shop_text(saw={"kerf": "0.9"})
    assert refused(text) == (
        f'shop.toml, line {line_of(text, "kerf")}: saw.kerf: found 0.9: a length needs a unit, such as "0.9 mm"',
    )


def test_every_mistake_of_a_file_is_told_at_once() -> None:
    text = shop_text(
        saw={"kerf": '"0 mm"', "column_side": '"behind"'}, fence={"max": None}, jig={"slope": '"8:1"', "name": "1"}
    )
    problems = refused(text)
    for number, key in enumerate(("saw.kerf", "saw.column_side", '"max" is missing', "jigs[1].name", "jigs[1].slope")):
        assert key in problems[number]


@pytest.mark.parametrize(
    "key", ["kerf", "column_side", "throat", "side", "max", "scale", "name", "slope", "leading_width", "thickness"]
)
def test_each_key_that_a_shop_needs_is_missed(key: str) -> None:
    lines = shop_text().splitlines()
    (problem,) = refused("\n".join(line for line in lines if not line.startswith(f"{key} =")))
    assert f'"{key}" is missing; expected ' in problem


@pytest.mark.parametrize(
    ("table", "says"),
    [("saw", "[saw] is missing"), ("fences", '"fences" is missing'), ("jigs", '"jigs" is missing')],
)
def test_each_table_that_a_shop_needs_is_missed(table: str, says: str) -> None:
    text = shop_text().replace(f"[[{table}]]", "[x]").replace(f"[{table}]", "[x]")
    assert any(says in problem for problem in refused(text))


def test_the_nearest_known_key_is_suggested() -> None:
    assert 'jigs[1].leading_widht: unknown key; did you mean "leading_width"?' in refusal(jig={"leading_widht": "1"})
    assert 'saw.column: unknown key; did you mean "column_side"?' in refusal(saw={"column": '"left"'})


def test_a_key_above_its_table_is_told_where_it_belongs() -> None:
    (problem,) = refused(shop_text(root='throat = "345 mm"'))
    assert problem == "shop.toml, line 2: throat: unknown key; it belongs in [saw]"


def test_a_layout_is_told_from_a_shop_file() -> None:
    assert refused(layout_text()) == (
        "shop.toml: this is a layout; expected a shop file, with [saw], [[fences]] and [[jigs]]",
    )


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("column_side", '"front"', '"left" or "right"'),
        ("backing_out", '"never"', '"stopped" or "as trained"'),
    ],
)
def test_a_word_that_is_not_one_of_a_few_is_told_what_they_are(key: str, value: str, expected: str) -> None:
    assert refusal(saw={key: value}).endswith(f"saw.{key}: found {value}; expected {expected}")


def test_a_kerf_wider_than_any_bandsaw_blades_is_refused() -> None:
    assert 'kerf: found "9 mm"; expected the width of the slot' in refusal(saw={"kerf": '"9 mm"'})


@pytest.mark.parametrize("key", ["kerf", "throat"])
def test_no_length_of_the_saw_is_zero(key: str) -> None:
    assert f'{key}: found "0 mm"; expected a length above zero' in refusal(saw={key: '"0 mm"'})


def test_a_fences_travel_goes_from_less_to_more() -> None:
    assert 'min: found "300 mm", no less than max' in refusal(fence={"min": '"300 mm"'})


@pytest.mark.parametrize("scale", ['"0 mm"', '"2 in"', '"fine"', "1"])
def test_a_scale_is_a_small_graduation_or_none(scale: str) -> None:
    assert "fences[1].scale: " in refusal(fence={"scale": scale})


def test_a_jig_that_runs_out_to_nothing_is_refused() -> None:
    problem = refusal(jig={"leading_width": '"40 mm"'})
    assert 'leading_width: found "40 mm", but over its length of "330 mm" the jig narrows by more than that' in problem


def test_a_jig_that_leads_with_its_narrow_end_may_be_narrow_there() -> None:
    assert parsed(jig={"leading_width": '"40 mm"', "leading_end": '"narrow"'}).jig.leading_width_mm == 40.0


def test_two_jigs_of_one_name_are_refused() -> None:
    (problem,) = refused(f"{shop_text()}[[jigs]]\n{keys(JIG, None)}")
    assert problem.endswith('jigs[2].name: "one in eight" is the name of an earlier jig; expected one of its own')


def test_a_jigs_name_holds_no_control_characters() -> None:
    assert "holds the unprintable character U+001B" in refusal(jig={"name": '"a\\u001b[1m"'})


@pytest.mark.parametrize("fences", ["fences = []", "fences = 3", "fences = [3]"])
def test_a_shop_has_at_least_one_fence(fences: str) -> None:
    text = shop_text(root=fences).replace(f"[[fences]]\n{keys(FENCE, None)}", "")
    (problem,) = refused(text)
    assert "[[fences]]" in problem
