"""Spacers for a plan with several rigs: only for moves of one fence with one jig."""

from __future__ import annotations

import math
from dataclasses import replace

from support.rigged_jobs import fence, jig, panel, shop

from coach.ground.terms import Hand
from coach.plan.deciding.decide import decide
from coach.shop.tools import Block
from coach.telling.phrases import Saying
from coach.telling.plan.spacers import spacers_as_json, spacers_lines

TOOLS = shop([fence(Hand.RIGHT, 250.0)], [jig("wide one", 80.0), jig("narrow one", 30.0, wide_leads=False)])
JOB = panel(replace(TOOLS, blocks=(Block(50.0, 2), Block(8.0, 2))))
PITCH_MM = 58.4 * 8 / math.sqrt(65)  # tails of 50.4 and sockets of 8 mm


def test_each_rig_has_its_own_spacers_and_a_change_of_rig_none() -> None:
    lines = spacers_lines(JOB, decide(JOB), Saying("mm", None))
    assert "Make 2 spacers of 57.95 mm." in lines
    assert "Make 1 spacer of 57.95 mm." in lines
    assert any("for setting 4 by a scrap cut" in line for line in lines)


def test_moves_and_stacks_are_those_between_settings_of_one_rig() -> None:
    told = spacers_as_json(JOB, decide(JOB))
    assert all(abs(move - PITCH_MM) < 1e-9 for move in told["moves_mm"])
    assert len(told["moves_mm"]) == 3
    assert [pile["setting"] for pile in told["stacks"]] == [2, 3, 5]
