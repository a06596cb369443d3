"""The events that change a batch in its middle, and what each does to the situation."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from coach.ground.terms import Edge, End, Lie, Side
from coach.joint.layout import EndLayout
from coach.plan.changing import changes, other_shop
from coach.plan.job import Board
from coach.plan.judging.mending import unmended, with_end
from coach.plan.judging.mistakes import Mistake, Verdict
from coach.plan.judging.stray_kerfs import StrayKerf, bite_of_any
from coach.plan.settings import Settings
from coach.plan.walking.situation import Situation
from coach.plan.walking.walker import Walker
from coach.record.batch.stored import (
    joint_from_json,
    settings_from_json,
    settings_to_json,
    shop_from_json,
    shop_to_json,
)
from coach.record.kinds import (
    ADD,
    ASIDE,
    BOARD_FIRST,
    DROP,
    LABEL,
    MEND,
    SETTING_FIRST,
    SHOP,
    SKIP,
    SPOIL,
    TAKE_UP,
    WRONG,
)
from coach.record.rows import NewEvent
from coach.shop.tools import Shop

Data = Mapping[str, Any]


def board_event(kind: str, situation: Situation, number: int, **more: object) -> NewEvent:
    """An event about one board; `spoil` and `drop` also have `spare` and `reason`."""
    return kind, {"number": number, "board": situation.job.board(number).label, **more}


def add_event(boards: Sequence[Board], settings: Settings) -> NewEvent:
    """Boards that are added, and the settings that then serve."""
    return ADD, {"boards": [asdict(board) for board in boards], "settings": settings_to_json(settings)}


def mend_event(situation: Situation, number: int, end: End, joint: EndLayout, settings: Settings) -> NewEvent:
    """An end of a board that gets other marks, and the settings that then serve."""
    kind, data = board_event(MEND, situation, number)
    return kind, {**data, "end": end.value, "joint": asdict(joint), "settings": settings_to_json(settings)}


def unmend_events(walker: Walker, side: Side, strays: Sequence[StrayKerf]) -> list[NewEvent]:
    """What has to come before a cut that stands is taken back: its mark goes back to where it was laid out.

    It stays where it was mended to if one of the board's stray kerfs stands in the wood that its tail would get back.
    """
    joint = unmended(walker, side)
    if joint is None:
        return []
    laid_out = with_end(walker.job.pattern_of(side.board), side.end, joint)
    if bite_of_any(strays, laid_out, side.end) is not None:
        return []
    situation = walker.situation()
    settings = changes.mended_settings(situation, side.board, side.end, joint)
    return [mend_event(situation, side.board, side.end, joint, settings)]


def wrong_event(
    situation: Situation, side: Side, mistake: Mistake, off_mm: float, verdict: Verdict, lies: Lie | None = None
) -> NewEvent:
    """A cut that went wrong: how, what comes of it, and how its board lies if that doesn't follow from its cuts."""
    kind, data = board_event(WRONG, situation, side.board)
    return kind, {
        **data,
        "end": side.end.value,
        "tail": side.tail,
        "faces": side.faces.value,
        "mistake": mistake.value,
        "off_mm": off_mm,
        "verdict": verdict.value,
        **({} if lies is None else {"lies": [lies.end.value, lies.edge.value]}),
    }


def shop_event(shop: Shop, settings: Settings) -> NewEvent:
    """Another blade, jig, fence or scale, and the settings that then serve."""
    return SHOP, {"shop": shop_to_json(shop), "settings": settings_to_json(settings)}


def _added(situation: Situation, data: Data) -> Situation:
    boards = [Board(**board) for board in data["boards"]]
    return changes.add(situation, boards, settings_from_json(data["settings"]))


def _mended(situation: Situation, data: Data) -> Situation:
    joint, settings = joint_from_json(data["joint"]), settings_from_json(data["settings"])
    return changes.mend(situation, data["number"], End(data["end"]), joint, settings)


def _went_wrong(situation: Situation, data: Data) -> Situation:
    """How the board lies; whatever else follows comes as events of its own."""
    if "lies" not in data:
        return situation
    end, edge = data["lies"]
    return changes.lay(situation, data["number"], Lie(End(end), Edge(edge)))


def _other_shop(situation: Situation, data: Data) -> Situation:
    return other_shop.change_shop(situation, shop_from_json(data["shop"]), settings_from_json(data["settings"]))


CHANGES: Mapping[str, Callable[[Situation, Data], Situation]] = {
    SPOIL: lambda situation, data: changes.take_out(
        situation, data["number"], data["spare"], relettered=data.get("relettered", False)
    ),
    DROP: lambda situation, data: changes.take_out(situation, data["number"], data["spare"]),
    LABEL: lambda situation, data: changes.relabel(situation, data["number"], data["label"]),
    ADD: _added,
    MEND: _mended,
    WRONG: _went_wrong,
    ASIDE: lambda situation, data: changes.put_aside(situation, data["number"]),
    TAKE_UP: lambda situation, data: changes.take_up(situation, data["number"]),
    SKIP: lambda situation, data: changes.skip(situation, data["number"]),
    BOARD_FIRST: lambda situation, data: changes.board_first(situation, data["number"]),
    SETTING_FIRST: lambda situation, data: changes.setting_first(situation, data["setting"]),
    SHOP: _other_shop,
}
"""For each kind of change what it does."""
