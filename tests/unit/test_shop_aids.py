"""Costs of handling and spacer blocks in a shop file, and in the record's copy of it."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from support.plain_files import shop_text
from support.small_jobs import shop

from coach.ground.errors import CoachError
from coach.plan.settings import Settings
from coach.record.batch.stored import settings_from_json, settings_to_json, shop_from_json, shop_to_json
from coach.shop.files import parse_shop
from coach.shop.tools import Block, Handling, Shop


def parsed(more: str) -> Shop:
    return parse_shop("shop.toml", shop_text() + more)


def refusal(more: str) -> str:
    with pytest.raises(CoachError) as caught:
        parsed(more)
    (problem,) = caught.value.problems
    return problem


def test_without_a_word_handling_costs_what_is_usual() -> None:
    assert parsed("").handling == Handling()
    assert parsed("").blocks == ()


def test_costs_are_read_as_seconds() -> None:
    found = parsed(
        "[handling]\nfence_move = 90\npick_up = 2.5\nedge_for_edge = 1\nend_for_end = 0.125\nend_over_end = 0\n"
        "swing_per_metre = 3.001\nswitch_off = 1000\n"
    )
    assert found.handling == Handling(90_000, 2_500, 1_000, 125, 0, 3_001, 1_000_000)


def test_what_a_handling_table_leaves_out_is_as_usual() -> None:
    assert parsed("[handling]\nend_over_end = 1\n").handling == replace(Handling(), end_over_end_ms=1000)


@pytest.mark.parametrize(
    "found", ["-1", "1000.5", "1001", "nan", "inf", "-inf", "true", '"2 s"', "[2]", "1" + "0" * 400]
)
def test_a_cost_that_is_no_number_of_seconds_is_refused(found: str) -> None:
    problem = refusal(f"[handling]\npick_up = {found}\n")
    assert "handling.pick_up: found " in problem
    assert "expected seconds as a plain number from 0 to 1000, such as 2 or 2.5" in problem


def test_a_cost_finer_than_a_millisecond_is_refused() -> None:
    assert refusal("[handling]\npick_up = 0.0005\n").endswith("with at most three decimals")


def test_an_unknown_cost_is_refused_with_the_one_that_is_meant() -> None:
    assert refusal("[handling]\nend_to_end = 2\n").endswith('unknown key; did you mean "end_for_end"?')


def test_a_cost_in_the_wrong_table_is_sent_to_its_own() -> None:
    with pytest.raises(CoachError, match=r"unknown key; it belongs in \[handling\]"):
        parse_shop("shop.toml", shop_text(root="pick_up = 2"))


def test_handling_must_be_a_table() -> None:
    with pytest.raises(CoachError, match="handling: found 3; expected a table"):
        parse_shop("shop.toml", shop_text(root="handling = 3"))


def test_blocks_are_read_with_how_many_there_are() -> None:
    found = parsed('[[blocks]]\nlength = "10 mm"\ncount = 4\n[[blocks]]\nlength = "1/4 in"\n')
    assert found.blocks == (Block(10.0, 4), Block(6.35, 1))


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ('length = "0 mm"', "expected a length above zero"),
        ('length = "0.005 mm"', "expected at least 0.01 mm"),
        ("length = 5", "a length needs a unit"),
        ('length = "5 mm"\ncount = 0', "expected a whole number from 1 to 120"),
        ('length = "5 mm"\nsize = 3', "unknown key"),
        ("count = 2", '"length" is missing'),
    ],
)
def test_an_impossible_block_is_refused(keys: str, says: str) -> None:
    assert says in refusal(f"[[blocks]]\n{keys}\n")


def test_more_blocks_than_anyone_has_are_refused() -> None:
    more = "".join(f'[[blocks]]\nlength = "{length} mm"\ncount = 61\n' for length in (5, 7))
    assert "more than 120 blocks in all" in refusal(more)


def test_a_batch_keeps_costs_and_blocks() -> None:
    kept = replace(shop(), handling=Handling(pick_up_ms=1), blocks=(Block(5.0, 2), Block(6.35, 1)))
    assert shop_from_json(json.loads(json.dumps(shop_to_json(kept)))) == kept


def test_a_batch_from_before_there_were_costs_and_blocks_reads_as_usual() -> None:
    stored = shop_to_json(shop())
    del stored["handling"], stored["blocks"]
    assert shop_from_json(stored) == shop()


def test_settings_from_before_there_was_another_order_are_largest_first() -> None:
    stored = settings_to_json(Settings((90.0, 80.0), ({},)))
    assert stored.pop("smallest_first") is False
    assert settings_from_json(stored) == Settings((90.0, 80.0), ({},))
