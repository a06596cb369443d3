"""The replay with rigid boards accepts a plan made by hand and refuses every faulty one made from it."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from support.plain_layout import PlainShop
from support.rigid_board import Board, EndDesign, Jig, SideKey
from support.rigid_saw import SpoiledWoodError, replay

Plan = dict[str, Any]


def replayed(plan: Plan, shop: PlainShop, boards: Sequence[Board]) -> dict[SideKey, float]:
    return replay(boards, shop.kerf_mm, {shop.jig_name: shop.jig}, plan["settings"], plan["steps"])


# A board 57 mm wide, two tails at each end, half-pin sockets of 5 mm and a pin of 4 mm at the end: marks at 5
# and 30.5 mm from either edge. Slope 1:8, so cos = 8/√65; a jig 80 mm wide and a kerf of 0.9 mm, so the fence
# stands at 79.1 + 5·8/√65 and at 79.1 + 30.5·8/√65.
NEAR_MM = 84.06138938356834
FAR_MM = 109.36447523976687
HAND_MADE_SHOP = PlainShop(0.9, "one in eight", Jig(math.atan2(1, 8), 80.0), "right", 0.0)
HAND_MADE_END = EndDesign(12.0, (5.0, 30.5), (5.0, 30.5))
HAND_MADE_BOARD = Board("side 1", 57.0, 380.0, 10.0, {"A": HAND_MADE_END, "B": HAND_MADE_END})


def hand_made_plan(side: str = "right") -> Plan:
    """Four cuts at each of two settings; the board turned over its length, end over end, over its length."""
    steps: list[dict[str, Any]] = []
    up = {"right": ("outside", "inside"), "left": ("inside", "outside")}[side]
    turns = (None, "edge-for-edge", "end-over-end", "edge-for-edge")
    lies = {
        1: (("A", "top"), ("A", "bottom"), ("B", "bottom"), ("B", "top")),
        2: (("B", "top"), ("B", "bottom"), ("A", "bottom"), ("A", "top")),
    }
    for setting, mark, tails in ((1, 30.5, {"top": 2, "bottom": 1}), (2, 5.0, {"top": 1, "bottom": 2})):
        steps.append({"step": len(steps) + 1, "kind": "set-fence", "setting": setting})
        for (end, edge), turn in zip(lies[setting], turns, strict=True):
            steps.append(
                {
                    "step": len(steps) + 1,
                    "kind": "cut",
                    "setting": setting,
                    "board": "side 1",
                    "end": end,
                    "tail": tails[edge],
                    "faces": edge,
                    "edge": edge,
                    "face_up": up[0] if (end, edge) in (("A", "top"), ("B", "bottom")) else up[1],
                    "mark_mm": mark,
                    "turn": turn,
                }
            )
    common = {"jig": "one in eight", "fence_side": side}
    return {
        "settings": [
            {"setting": 1, "fence_mm": FAR_MM, "cuts": 4, **common},
            {"setting": 2, "fence_mm": NEAR_MM, "cuts": 4, **common},
        ],
        "steps": steps,
    }


def first_cut(plan: Plan, **wanted: Any) -> dict[str, Any]:
    step = next(s for s in plan["steps"] if s["kind"] == "cut" and wanted.items() <= s.items())
    assert isinstance(step, dict)
    return step


def _fence_off(plan: Plan) -> None:
    plan["settings"][1]["fence_mm"] += 0.01


def _fence_without_cosine(plan: Plan) -> None:
    plan["settings"][0]["fence_mm"] = 80 + 30.5 - 0.9


def _kerf_in_the_tail(plan: Plan) -> None:
    plan["settings"][0]["fence_mm"] += 0.9


def _edge_swapped(plan: Plan) -> None:
    first_cut(plan, turn="edge-for-edge")["edge"] = "top"


def _face_swapped(plan: Plan) -> None:
    first_cut(plan)["face_up"] = "inside"


def _ends_swapped(plan: Plan) -> None:
    for step in plan["steps"]:
        if step["kind"] == "cut":
            step["end"] = {"A": "B", "B": "A"}[step["end"]]


def _turn_wrong(plan: Plan) -> None:
    first_cut(plan, turn="end-over-end")["turn"] = "end-for-end"


def _turn_unsaid(plan: Plan) -> None:
    first_cut(plan, turn="edge-for-edge")["turn"] = None


def _turn_unknown(plan: Plan) -> None:
    first_cut(plan, turn="edge-for-edge")["turn"] = "upside-down"


def _turn_before_the_first_cut(plan: Plan) -> None:
    first_cut(plan)["turn"] = "edge-for-edge"


def _cut_left_out(plan: Plan) -> None:
    plan["steps"].pop()


def _cut_twice(plan: Plan) -> None:
    plan["steps"].append({**plan["steps"][-1], "turn": None})


def _cut_unknown(plan: Plan) -> None:
    plan["steps"].append({**plan["steps"][-1], "tail": 3, "turn": None})


def _board_unknown(plan: Plan) -> None:
    plan["steps"].append({**plan["steps"][-1], "board": "side 2", "turn": None})


def _fence_on_the_other_side(plan: Plan) -> None:
    for setting in plan["settings"]:
        setting["fence_side"] = "left"


def _fence_not_moved(plan: Plan) -> None:
    plan["steps"] = [step for step in plan["steps"] if (step["kind"], step["setting"]) != ("set-fence", 2)]


def _fence_moved_too_early(plan: Plan) -> None:
    steps = plan["steps"]
    move = next(step for step in steps if (step["kind"], step["setting"]) == ("set-fence", 2))
    steps.remove(move)
    steps.insert(3, move)


def _tail_of_another_mark(plan: Plan) -> None:
    one, two = (
        first_cut(plan, setting=1, end="B", faces="top"),
        first_cut(plan, setting=2, end="B", faces="top"),
    )
    one["tail"], two["tail"] = two["tail"], one["tail"]


def _tail_and_mark_of_the_other_setting(plan: Plan) -> None:
    one, two = (
        first_cut(plan, setting=1, end="B", faces="top"),
        first_cut(plan, setting=2, end="B", faces="top"),
    )
    one["tail"], one["mark_mm"], two["tail"], two["mark_mm"] = (
        two["tail"],
        two["mark_mm"],
        one["tail"],
        one["mark_mm"],
    )


def _side_that_faces_away(plan: Plan) -> None:
    step = first_cut(plan, setting=1, end="A", faces="top")
    other = first_cut(plan, setting=1, end="A", faces="bottom")
    step["faces"], step["tail"], other["faces"], other["tail"] = "bottom", 1, "top", 2


FAULTS = {
    "off by": (_fence_off, _fence_without_cosine, _kerf_in_the_tail, _tail_and_mark_of_the_other_setting),
    "no board can lie": (_face_swapped, _fence_on_the_other_side, _ends_swapped),
    "the step says": (_edge_swapped, _turn_wrong, _turn_unsaid, _tail_of_another_mark),
    "unknown turn": (_turn_unknown,),
    "never put down": (_turn_before_the_first_cut,),
    "never cut": (_cut_left_out,),
    "cut twice": (_cut_twice,),
    "has no side": (_cut_unknown,),
    "unknown board": (_board_unknown,),
    "the fence isn't there": (_fence_not_moved, _fence_moved_too_early),
    "opens|off by": (_side_that_faces_away,),
}


@pytest.mark.parametrize("side", ["right", "left"])
def test_the_replay_accepts_a_plan_made_by_hand(side: str) -> None:
    shifts = replayed(hand_made_plan(side), HAND_MADE_SHOP, [HAND_MADE_BOARD])
    assert len(shifts) == 8
    assert all(abs(shift) < 1e-9 for shift in shifts.values())


@pytest.mark.parametrize(
    ("complaint", "spoil"),
    [pytest.param(words, spoil, id=spoil.__name__[1:]) for words, spoils in FAULTS.items() for spoil in spoils],
)
def test_the_replay_refuses_a_faulty_plan(complaint: str, spoil: Callable[[Plan], None]) -> None:
    plan = copy.deepcopy(hand_made_plan())
    spoil(plan)
    with pytest.raises(SpoiledWoodError, match=complaint):
        replayed(plan, HAND_MADE_SHOP, [HAND_MADE_BOARD])


@pytest.mark.parametrize(
    ("complaint", "shop", "board"),
    [
        (
            "off by",
            PlainShop(1.0, "one in eight", Jig(math.atan2(1, 8), 80.0), "right", 0.0),
            HAND_MADE_BOARD,
        ),
        (
            "between the kerf and the side",
            PlainShop(0.9, "one in eight", Jig(math.atan2(1, 8), 80.0, "narrow"), "right", 0.0),
            Board("side 1", 57.0, 380.0, 10.0, HAND_MADE_BOARD.ends, shift_mm=1.0),
        ),
        (
            "off by",
            PlainShop(0.9, "one in eight", Jig(math.atan2(1, 8), 80.5), "right", 0.0),
            HAND_MADE_BOARD,
        ),
    ],
    ids=["a wider kerf", "a jig turned about", "a wider jig"],
)
def test_the_replay_refuses_a_plan_for_another_shop(complaint: str, shop: PlainShop, board: Board) -> None:
    with pytest.raises(SpoiledWoodError, match=complaint):
        replayed(hand_made_plan(), shop, [board])


def test_the_replay_refuses_a_kerf_wider_than_its_socket() -> None:
    # A mark moved by hand so that the inner socket is 0.5 mm wide: each cut saws into the neighbouring tail.
    narrow = EndDesign(12.0, (5.0, 27.0), (5.0, 30.5))
    board = Board("side 1", 57.0, 380.0, 10.0, {"A": narrow, "B": narrow})
    plan = hand_made_plan()
    plan["settings"].insert(1, {**plan["settings"][0], "setting": 3, "fence_mm": 79.1 + 27 * 8 / math.sqrt(65)})
    steps = [step for step in plan["steps"] if step["kind"] == "cut"]
    cuts = {(s["setting"], s["end"], s["faces"]): {**s, "turn": None} for s in steps}
    for key in ((1, "A", "top"), (1, "B", "top")):
        cuts[key] |= {"setting": 3, "mark_mm": 27.0}
    ordered = [
        {"kind": "set-fence", "setting": 1},
        cuts[1, "A", "bottom"],
        {**cuts[1, "B", "bottom"], "turn": "end-over-end"},
        {"kind": "set-fence", "setting": 3},
        {**cuts[1, "B", "top"], "turn": "edge-for-edge"},
        {**cuts[1, "A", "top"], "turn": "end-over-end"},
        {"kind": "set-fence", "setting": 2},
        cuts[2, "A", "top"],
        {**cuts[2, "A", "bottom"], "turn": "edge-for-edge"},
        {**cuts[2, "B", "bottom"], "turn": "end-over-end"},
        {**cuts[2, "B", "top"], "turn": "edge-for-edge"},
    ]
    plan["steps"] = [{**step, "step": number} for number, step in enumerate(ordered, start=1)]
    with pytest.raises(SpoiledWoodError, match="sawn off"):
        replayed(plan, HAND_MADE_SHOP, [board])
