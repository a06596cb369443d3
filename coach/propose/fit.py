"""A layout whose marks all fall on graduations of the fence's scale."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.ground.errors import CoachError
from coach.ground.terms import Edge, End
from coach.joint.files import Written, parse_layout
from coach.joint.layout import Layout
from coach.joint.limits import Show
from coach.plan.deciding.decide import decide
from coach.plan.job import EQUAL_MM, Job, make_job
from coach.plan.judging.proof import proven_settings
from coach.plan.settings import Settings
from coach.propose.graduations import Graduations, apart_mm, cut_alone, few_boards
from coach.propose.layout_text import layout_text, length_text, name_with, tolerance_text
from coach.shop.tools import Shop

FITTED = "fitted"
_ROUNDED_MM = 0.001
_SPACING = ("tails", "proportions", "half_pin", "pin", "top_marks", "bottom_marks")

EndMarks = Mapping[Edge, tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class Fit:
    """A layout as drawn and as fitted.

    Attributes:
        text: of the file that holds the fitted one.
        before: the settings as drawn, None if it can't be cut so on this scale.
        after: the settings once fitted.
        job: what `after` is for, with few boards.
        narrowed_mm: the tolerance that had to be written to keep neighbouring graduations apart, if any.
    """

    drawn: Layout
    fitted: Layout
    text: str
    before: Settings | None
    after: Settings
    job: Job
    graduations: Graduations
    narrowed_mm: float | None


@dataclass(frozen=True, slots=True)
class _Rule:
    """A socket or a tail that has to stay wide enough: the sum of its one or two marks is bounded."""

    what: str
    groups: tuple[int, ...]
    width_mm: float
    least_mm: float
    most_mm: float

    def kept(self, chosen: Mapping[int, int], graduations: Graduations) -> bool:
        total = sum(graduations.mark_mm(chosen[group], self.width_mm) for group in self.groups)
        return self.least_mm - 1e-9 <= total <= self.most_mm + 1e-9


_Ends = dict[tuple[int, End], dict[Edge, tuple[int, ...]]]  # for each part and end, the groups of its marks


def fit(written: Written, shop: Shop, show: Show) -> Fit:
    """The layout with every mark on the nearest graduation; marks that were equal stay so.

    Where the nearest one would leave a socket too narrow for the blade, or a tail less than a third of its width at the
    baseline, one of the two marks goes to the graduation on its other side. A symmetrical end stays so, and ends that
    shared marks still do, since equal marks move alike. (With a jig whose narrow end leads, those are marks at equal
    distances from the edge at the jig.)

    Raises:
        CoachError: the fence has no scale, the scale is too coarse, or the saw can't reach.
    """
    drawn = written.layout
    shop = _one_rig(drawn, shop)
    graduations = Graduations.of(shop)
    if graduations is None:
        raise CoachError(
            "the shop's fence has no scale, so there are no graduations to fit marks to; "
            'expected a scale in the shop file, such as scale = "0.5 mm"'
        )
    wanted, ends = _grouped(drawn, graduations)
    chosen = _settled(wanted, list(_rules(drawn, ends, graduations)), graduations, show)
    marks = {
        (number, end): {
            edge: tuple(graduations.mark_mm(chosen[group], drawn.parts[number].width_mm) for group in groups[edge])
            for edge in Edge
        }
        for (number, end), groups in ends.items()
    }
    text = _text(written, marks, None)
    job = make_job([few_boards(parse_layout(drawn.name, text))], shop)
    narrowed = None
    if not cut_alone(job, {graduations.fence_mm(number) for number in chosen.values()}):
        narrowed = apart_mm(job.layouts, graduations)
        text = _text(written, marks, narrowed)
        job = make_job([few_boards(parse_layout(drawn.name, text))], shop)
    after = proven_settings(job, show)
    return Fit(drawn, job.layouts[0], text, _before(drawn, shop, show), after, job, graduations, narrowed)


def _one_rig(drawn: Layout, shop: Shop) -> Shop:
    """The shop with the fence and the jig in use that cut the layout; CoachError if several take part, each of which
    would want marks of its own."""
    try:
        rigs = sorted(set(decide(make_job([few_boards(drawn)], shop)).rigs)) or [0]
    except CoachError:
        return shop
    if len(rigs) > 1:
        raise CoachError(
            f"with this shop the layout is cut with {len(rigs)} pairs of fence and jig, and marks are fitted to the "
            "scale of one; expected a shop file whose first fence and first jig reach all of it"
        )
    return shop.rigged(rigs[0])


def _before(drawn: Layout, shop: Shop, show: Show) -> Settings | None:
    try:
        return proven_settings(make_job([few_boards(drawn)], shop), show)
    except CoachError:
        return None


def _grouped(layout: Layout, graduations: Graduations) -> tuple[list[float], _Ends]:
    """Marks that one fence position cuts, grouped: where each group would stand, and each end's groups."""
    found = sorted(
        (graduations.position(mark, part.width_mm), number, end, edge, index)
        for number, part in enumerate(layout.parts)
        for end, joint in part.ends.items()
        for edge, marks in zip(Edge, (joint.top_marks_mm, joint.bottom_marks_mm), strict=True)
        for index, mark in enumerate(marks)
    )
    equal = 2 * EQUAL_MM / graduations.spacing_mm
    wanted: list[float] = []
    groups: dict[tuple[int, End], dict[Edge, dict[int, int]]] = {}
    for position, number, end, edge, index in found:
        if not wanted or position - wanted[-1] > equal:
            wanted.append(position)
        groups.setdefault((number, end), {}).setdefault(edge, {})[index] = len(wanted) - 1
    return wanted, {
        key: {edge: tuple(numbers[index] for index in sorted(numbers)) for edge, numbers in edges.items()}
        for key, edges in groups.items()
    }


def _rules(layout: Layout, ends: _Ends, graduations: Graduations) -> Iterator[_Rule]:
    slope = graduations.jig.slope
    needed = graduations.kerf_mm / math.cos(slope)
    for (number, end), groups in ends.items():
        part = layout.parts[number]
        joint = part.ends[end]
        where = f'part "{part.label}", end {end}'
        top, bottom = groups[Edge.TOP], groups[Edge.BOTTOM][::-1]
        width, excess = part.width_mm, part.widest_mm - part.width_mm
        tail = 3 * joint.tail_length_mm * math.tan(slope) + _ROUNDED_MM
        yield _Rule(f"{where}: the half-pin socket at the top edge", (top[0],), width, needed, math.inf)
        yield _Rule(f"{where}: the half-pin socket at the bottom edge", (bottom[-1],), width, needed, math.inf)
        for index, pair in enumerate(zip(top, bottom, strict=True), 1):
            yield _Rule(f"{where}: tail {index}", pair, width, -math.inf, width - tail)
        for index, pair in enumerate(zip(top[1:], bottom, strict=False), 1):
            what = f"{where}: the socket between tails {index} and {index + 1}"
            yield _Rule(what, pair, width, width + excess + needed, math.inf)


def _settled(wanted: Sequence[float], rules: Sequence[_Rule], graduations: Graduations, show: Show) -> dict[int, int]:
    """On which graduation each group falls: the nearest, or the one on its other side where a rule asks for it.

    Two graduations to choose from and rules about two groups each: whatever a choice forces follows from it, and a
    choice that forces nothing impossible can't spoil a later one, so none has to be taken back.
    """
    choices = {group: _neighbours(position) for group, position in enumerate(wanted)}
    chosen = {group: numbers[0] for group, numbers in choices.items()}
    touching: dict[int, list[_Rule]] = {group: [] for group in choices}
    for rule in rules:
        for group in set(rule.groups):
            touching[group].append(rule)
    held: dict[int, int] = {}
    for rule in rules:
        if rule.kept(chosen, graduations):
            continue
        others = [(abs(wanted[group] - choices[group][-1]), group) for group in rule.groups if group not in held]
        for _, group in sorted(set(others)):
            forced = _forced(group, choices[group][-1], held, choices, touching, graduations)
            if forced is not None:
                held = forced
                chosen |= held
                break
        else:
            raise CoachError(
                f"{rule.what} can't be kept wide enough with its marks on graduations {show(graduations.step_mm)} "
                "apart; expected a finer scale, or more room there"
            )
    return chosen


def _neighbours(position: float) -> tuple[int, ...]:
    """The graduations on both sides of a position, the nearer first; one if it falls on it."""
    nearest = round(position)
    if abs(position - nearest) < 1e-6:
        return (nearest,)
    return nearest, (nearest + 1 if position > nearest else nearest - 1)


def _forced(
    group: int,
    number: int,
    held: Mapping[int, int],
    choices: Mapping[int, Sequence[int]],
    touching: Mapping[int, Sequence[_Rule]],
    graduations: Graduations,
) -> dict[int, int] | None:
    """What is held once a group is held at a graduation, with all that follows from it; None if that can't be."""
    now = dict(held)
    queue = deque([(group, number)])
    while queue:
        at, value = queue.popleft()
        if at in now:
            if now[at] != value:
                return None
            continue
        now[at] = value
        for rule in touching[at]:
            other = next((one for one in rule.groups if one != at), at)
            free = (value,) if other == at else choices[other]
            allowed = [one for one in free if rule.kept({at: value, other: one}, graduations)]
            if not allowed:
                return None
            if len(allowed) == 1 and other != at:
                queue.append((other, allowed[0]))
    return now


def _text(written: Written, marks: Mapping[tuple[int, End], EndMarks], tolerance_mm: float | None) -> str:
    """The file as it was, comments aside, with the fitted marks in place of each spacing."""
    layout = written.layout
    root: dict[str, Any] = {key: value for key, value in written.root.data.items() if key != "parts"}
    if not layout.name.endswith(f", {FITTED}"):
        root["name"] = name_with(layout.name, FITTED)
    if tolerance_mm is not None:
        root["tolerance"] = tolerance_text(tolerance_mm, layout.unit)
    parts = []
    for number, (table, part) in enumerate(zip(written.parts, layout.parts, strict=True)):
        spacings = {
            end: {
                f"{edge}_marks": [length_text(mark, layout.unit) for mark in side]
                for edge, side in marks[number, end].items()
            }
            for end in part.ends
        }
        data = {key: value for key, value in table.data.items() if key not in _SPACING}
        own = {
            end: {key: value for key, value in data.pop(f"end_{end}", {}).items() if key not in _SPACING} for end in End
        }
        first = next(iter(spacings.values()))
        alike = all(spacing == first for spacing in spacings.values())
        if alike:
            data |= first
        for end, spacing in spacings.items():
            keys = own[end] | ({} if alike else spacing)
            if keys:
                data[f"end_{end}"] = keys
        parts.append(data)
    return layout_text(root, parts)
