"""Layouts, shop and settings as plain JSON values, and back: a batch keeps its own copy of them, in millimetres."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from fractions import Fraction
from typing import Any

from coach.ground.lengths import Graduation
from coach.ground.terms import Edge, End, Hand, Joint
from coach.joint.layout import EndLayout, Groove, Layout, Part
from coach.plan.reach import PatternSide
from coach.plan.settings import Settings
from coach.shop.tools import Block, Fence, Handling, Jig, Saw, Shop

Json = dict[str, Any]


def layout_to_json(layout: Layout) -> Json:
    """A layout; lengths in mm, slope in radians."""
    found = asdict(layout)
    for part, stored in zip(layout.parts, found["parts"], strict=True):
        stored["ends"] = {end.value: asdict(joint) for end, joint in part.ends.items()}
    return found


def layout_from_json(data: Mapping[str, Any]) -> Layout:
    """The layout that `layout_to_json` made `data` of."""
    return Layout(
        data["name"],
        data["slope"],
        data["tolerance_mm"],
        data["species"],
        tuple(_part(part) for part in data["parts"]),
        data["unit"],
    )


def _part(data: Mapping[str, Any]) -> Part:
    ends = {End(end): joint_from_json(joint) for end, joint in data["ends"].items()}
    groove = None if data["groove"] is None else Groove(**data["groove"])
    return Part(**{**data, "ends": ends, "groove": groove})


def joint_from_json(data: Mapping[str, Any]) -> EndLayout:
    """The end's layout whose fields `data` holds."""
    marks = {key: tuple(data[key]) for key in ("top_marks_mm", "bottom_marks_mm")}
    return EndLayout(**{**data, **marks, "joint": Joint(data["joint"])})


def shop_to_json(shop: Shop) -> Json:
    """A shop; lengths in mm, slopes in radians, a graduation as an exact fraction of a mm with its unit."""
    found = asdict(shop)
    for fence, stored in zip(shop.fences, found["fences"], strict=True):
        if fence.graduation is not None:
            stored["graduation"] = [str(fence.graduation.step_mm), fence.graduation.unit]
    return found


def shop_from_json(data: Mapping[str, Any]) -> Shop:
    """The shop that `shop_to_json` made `data` of; one from before there were blocks and costs of handling has none
    and the usual ones."""
    saw = Saw(**{**data["saw"], "column_side": Hand(data["saw"]["column_side"])})
    return Shop(
        saw,
        tuple(_fence(fence) for fence in data["fences"]),
        tuple(Jig(**jig) for jig in data["jigs"]),
        data["sample"],
        Handling(**data.get("handling", {})),
        tuple(Block(**block) for block in data.get("blocks", ())),
    )


def _fence(data: Mapping[str, Any]) -> Fence:
    graduation = data["graduation"]
    if graduation is not None:
        graduation = Graduation(Fraction(graduation[0]), graduation[1])
    return Fence(**{**data, "side": Hand(data["side"]), "graduation": graduation})


def settings_to_json(settings: Settings) -> Json:
    """Where the fence stands at each setting, and what serves the sides of each pattern and of boards of their own."""
    return {
        "fence_mm": list(settings.fence_mm),
        "serves": [_serving_to_json(serving) for serving in settings.serves],
        "own": {str(number): _serving_to_json(serving) for number, serving in settings.own.items()},
        "smallest_first": settings.smallest_first,
        **({"rigs": list(settings.rigs)} if settings.rigs else {}),
    }


def _serving_to_json(serving: Mapping[PatternSide, int]) -> list[list[str | int]]:
    return [[end.value, tail, faces.value, setting] for (end, tail, faces), setting in serving.items()]


def _serving_from_json(serving: Iterable[Sequence[Any]]) -> dict[PatternSide, int]:
    return {(End(end), tail, Edge(faces)): setting for end, tail, faces, setting in serving}


def settings_from_json(data: Mapping[str, Any]) -> Settings:
    """The settings that `settings_to_json` made `data` of."""
    return Settings(
        tuple(data["fence_mm"]),
        tuple(_serving_from_json(serving) for serving in data["serves"]),
        {int(number): _serving_from_json(serving) for number, serving in data.get("own", {}).items()},
        data.get("smallest_first", False),
        tuple(data.get("rigs", ())),
    )
