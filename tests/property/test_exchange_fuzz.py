"""Exported files that were changed at random: refused with one clear message, or taken in as a batch that works."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from support.damaged_records import changed_in_every_way, record
from support.small_batches import Clock

from coach.ground.errors import CoachError
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.record.exchange import export_batch, import_batch
from coach.telling.log.lines import log_events

RECORD = record()
CASES_A_SEED = 250
STRANGE: tuple[Any, ...] = (
    None,
    True,
    False,
    0,
    -1,
    1,
    2,
    7,
    10**15,
    -0.5,
    0.25,
    1e308,
    "",
    "A",
    "B",
    "top",
    "cut",
    "undo",
    "9",
    "x" * 2000,
    "\x07",
    [],
    [[]],
    {},
    {"A": 1},
)


@pytest.fixture(scope="module")
def texts(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    folder = RECORD.lay_down(tmp_path_factory.mktemp("exported") / "record")
    with Store.open(folder, clock=Clock()) as store:
        changed_in_every_way(store)
        return ["".join(export_batch(store, row)) for row in store.batches()]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path, clock=Clock()) as opened:
        yield opened


def places(value: Any) -> list[tuple[Any, Any]]:
    """Every list or table in a value, with each key or index of it."""
    found: list[tuple[Any, Any]] = []
    level = [value]
    while level:
        one = level.pop()
        items = one.items() if isinstance(one, dict) else enumerate(one) if isinstance(one, list) else ()
        for key, inner in items:
            found.append((one, key))
            level.append(inner)
    return found


def change_values(found: Any, chance: random.Random) -> None:
    for _ in range(chance.choice((1, 1, 1, 2, 5))):
        inside, key = chance.choice(places(found))
        match chance.randrange(5):
            case 0:
                del inside[key]
            case 1:
                other, elsewhere = chance.choice(places(found))
                inside[key] = copy.deepcopy(other[elsewhere])
            case 2 if isinstance(inside, list):
                inside.insert(key, copy.deepcopy(inside[key]))
            case 3 if type(inside[key]) in (int, float):
                inside[key] += chance.choice((-1, 1, 0.5, 100))
            case _:
                inside[key] = copy.deepcopy(chance.choice(STRANGE))
        if not places(found):
            return


def change_text(text: str, chance: random.Random) -> str:
    begin = chance.randrange(len(text))
    end = begin + chance.choice((0, 1, 1, 3, 200))
    more = chance.choice(
        ("", "0", "-", "9" * 30, '"', "{", "]", ",", "\n", "null", "\ud800", "\u202e", "e9", "[" * 5000)
    )
    return text[:begin] + more + text[end:]


def judge(store: Store, text: str, case: int) -> bool:
    """Whether a changed file is taken in; then the batch must open, say its next step and be logged."""
    try:
        row = import_batch(store, text, name=f"case {case}")
    except CoachError as error:
        (problem,) = error.problems
        assert problem.startswith("the text: ")
        assert len(problem) < 700
        assert problem.isprintable()
        return False
    session = Session(store, row)
    session.next()
    session.last_step()
    session.come_back(Clock()())
    for event in log_events(store, [row]):
        json.dumps(event)
    return True


@pytest.mark.parametrize("seed", range(8))
def test_values_changed_at_random_are_refused_or_make_a_batch_that_works(
    store: Store, texts: list[str], seed: int
) -> None:
    chance = random.Random(seed)  # noqa: S311 - it has to be the same again
    whole = [json.loads(text) for text in texts]
    for case in range(CASES_A_SEED):
        found = copy.deepcopy(chance.choice(whole))
        change_values(found, chance)
        judge(store, json.dumps(found), case)


@pytest.mark.parametrize("seed", range(4))
def test_text_changed_at_random_is_refused_or_makes_a_batch_that_works(
    store: Store, texts: list[str], seed: int
) -> None:
    chance = random.Random(1000 + seed)  # noqa: S311 - it has to be the same again
    for case in range(CASES_A_SEED):
        judge(store, change_text(chance.choice(texts), chance), case)


def test_most_changes_of_what_was_done_are_noticed(store: Store, texts: list[str]) -> None:
    chance = random.Random(77)  # noqa: S311 - it has to be the same again
    whole = [json.loads(text) for text in texts]
    taken = 0
    for case in range(CASES_A_SEED):
        found = copy.deepcopy(chance.choice(whole))
        change_values(found["events"], chance)
        taken += judge(store, json.dumps(found), case)
    assert taken < CASES_A_SEED / 2
