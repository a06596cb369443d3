"""The kinds of events, by the words that stand for them in the record."""

from __future__ import annotations

from coach.plan.steps import StepKind

START, SETTINGS, UNDO, RETURN = "start", "settings", "undo", "return"
STEP_KINDS = frozenset(kind.value for kind in StepKind)
"""An event of one of these kinds says that the step of that kind was done."""

SPOIL, DROP, LABEL, ADD, MEND, WRONG = "spoil", "drop", "label", "add", "mend", "wrong"
ASIDE, TAKE_UP, SKIP, BOARD_FIRST, SETTING_FIRST, SHOP = (
    "aside",
    "take-up",
    "skip",
    "board-first",
    "setting-first",
    "shop",
)
CHANGE_KINDS = frozenset({SPOIL, DROP, LABEL, ADD, MEND, WRONG, ASIDE, TAKE_UP, SKIP, BOARD_FIRST, SETTING_FIRST, SHOP})
"""An event of one of these kinds changes the batch itself; `coach.record.batch.change_events` says how."""

KNOWN_KINDS = STEP_KINDS | CHANGE_KINDS | {START, SETTINGS, UNDO, RETURN}
"""All kinds of events that this program knows."""
