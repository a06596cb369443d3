"""Whatever happens to a record's files, nothing is invented, and nothing is lost that an untouched copy has.

2,000 on demand: tests/bench/damages.py.
"""

from __future__ import annotations

import pytest
from support.damages import Tried, try_one

EACH = 20


@pytest.mark.parametrize("first", range(1, 101, EACH))
def test_of_random_damage_nothing_is_invented_and_nothing_is_hidden(first: int) -> None:
    tried = Tried()
    for seed in range(first, first + EACH):
        try_one(seed, tried)
    assert tried.faults == []
    assert tried.done == EACH
    assert tried.recovered > 0
