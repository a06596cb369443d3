"""Saws a plan before any wood is cut, and compares what is left with the layout."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import partial

from coach.ground.terms import Edge, End, Lie, Side
from coach.joint.limits import Show, socket_problems
from coach.plan.geometry import kerf_span_mm
from coach.plan.job import Job, Pattern
from coach.plan.judging.kerf_in_tails import bite
from coach.plan.reach import PatternSide, shift_mm, tolerated_interval
from coach.plan.settings import Settings
from coach.plan.steps import Step, StepKind

NEAR = 1e-6  # mm: what rounding of floats may add up to


def faults(job: Job, settings: Settings, steps: Iterable[Step], show: Show) -> list[str]:
    """What would be spoiled if `steps`, a whole batch, were cut; empty if every tail comes out right.

    Boards are turned as the steps say, from how they were put down, and cut where the fence then stands. Every side
    must be cut once, within tolerance, and no kerf may reach into a tail or run out through the edge into the jig.
    """
    found: list[str] = []
    lies: dict[int, Lie] = {}
    cut: set[Side] = set()
    fence: int | None = None
    known: dict[tuple[int, int, PatternSide, Lie], str | None] = {}
    for step in steps:
        if step.kind is StepKind.SET_FENCE:
            fence = step.setting
        if step.kind is not StepKind.CUT:
            continue
        assert step.side is not None and step.edge is not None
        side = step.side
        name = f"{job.board(side.board).label}, end {side.end}, tail {side.tail}, {side.faces} side"
        if fence is None or fence != step.setting:
            found.append(f"{name}: the fence doesn't stand at this cut's setting")
            continue
        if side in cut:
            found.append(f"{name}: would be cut twice")
        cut.add(side)
        rigged = job.rigged(settings.rig(fence))
        meant = Lie(side.end, step.edge)
        # Boards stay as they were put down when the fence goes to the other side of the blade.
        told = meant if rigged.shop.fence.side is job.shop.fence.side else meant.across()
        lies[side.board] = lies[side.board].turned(step.turn) if side.board in lies else told
        if lies[side.board] != told or step.face_up is not meant.face_up(rigged.shop.fence.side):
            found.append(f"{name}: after the turn the board lies otherwise than the step says")
            continue
        pattern = job.board(side.board).pattern
        key = (side.end, side.tail, side.faces)
        where = (pattern, fence, key, meant)
        if where not in known:
            known[where] = _cut_fault(rigged, job.patterns[pattern], key, settings.fence_mm[fence], meant, show)
        fault = known[where]
        if fault:
            found.append(f"{name}: {fault}")
    missing = job.cuts - len(cut)
    if missing:
        found.append(f"{missing} of {job.cuts} sides would never be cut")
    for number in range(len(job.patterns)):
        found += _as_cut_problems(job, settings, number, show)
    return found


def _cut_fault(job: Job, pattern: Pattern, side: PatternSide, fence_mm: float, lie: Lie, show: Show) -> str | None:
    end, tail, faces = side
    jig, kerf = job.shop.jig, job.shop.saw.kerf_mm
    joint = pattern.ends[end]
    width = pattern.part.width_mm
    interval = tolerated_interval(job, pattern, side)
    if not interval.low - NEAR <= fence_mm <= interval.high + NEAR:
        off = abs(shift_mm(job, pattern, side, fence_mm))
        return f"would be cut {show(off)} off its mark, beyond tolerance"
    allowed = job.tolerance_mm(pattern) + NEAR
    for at in (0.0, joint.tail_length_mm):
        near, far = kerf_span_mm(jig, kerf, fence_mm, at)
        span = (near, far) if lie.edge is Edge.TOP else (width - far, width - near)
        tails = joint.tail_spans_mm(width, at, jig.slope)
        line = tails[tail - 1][0 if faces is Edge.TOP else 1]
        touching = span[1] if faces is Edge.TOP else span[0]
        if abs(touching - line) > allowed:
            return f"the kerf misses the side by {show(abs(touching - line))} {show(at)} from the end"
    if bitten := bite(pattern, job, fence_mm, end, faces, meant=tail):
        return bitten.words(end, show)
    edge_to_kerf = kerf_span_mm(jig, kerf, fence_mm, 0.0)[0]
    if jig.wide_leads and edge_to_kerf < -NEAR:
        return f"the blade would run {show(-edge_to_kerf)} into the jig"
    return None


def _as_cut_problems(job: Job, settings: Settings, number: int, show: Show) -> list[str]:
    """Limits that the layout keeps but its cuts, rounded to the scale and on the widest board, would not.

    On a board too wide by e, a mark keeps its distance from the edge at the jig. Cut with a wide-leading jig that is
    the edge that the side faces; with a narrow-leading one it is the other, so the side lies e further in.
    """
    found = []
    pattern = job.patterns[number]
    slope, kerf = job.shop.jig.slope, job.shop.saw.kerf_mm
    excess = pattern.part.widest_mm - pattern.part.width_mm
    for end, joint in pattern.ends.items():
        shift = partial(_shift_of, job, settings, number, end)
        further = partial(_further_in_mm, job, settings, number, end)
        widths, widest = [], []
        for index, socket in enumerate(joint.socket_widths_mm(pattern.part.width_mm)):
            inner = 0 < index < joint.tails
            sides = [(index, Edge.BOTTOM)] if index > 0 else []
            sides += [(index + 1, Edge.TOP)] if index < joint.tails else []
            width = socket + sum(shift(*side) for side in sides)
            widths.append(width)
            widest.append(width + sum(further(*side) for side in sides) - (excess if inner else 0.0))
        on_widest = any(there < here - NEAR for here, there in zip(widths, widest, strict=True))
        when = " once rounded to the scale" + (" on the widest board" if excess and on_widest else "")
        where = f'part "{pattern.part.label}", end {end}'
        narrowest = [min(pair) + NEAR for pair in zip(widths, widest, strict=True)]
        found += [f"{where}: {problem}" for problem in socket_problems(joint, narrowest, slope, kerf, show, when)]
        for tail, wide in enumerate(joint.tail_widths_mm(pattern.part.width_mm), 1):
            cut = wide - shift(tail, Edge.TOP) - shift(tail, Edge.BOTTOM)
            cut += min(0.0, excess - further(tail, Edge.TOP) - further(tail, Edge.BOTTOM))
            base = cut - 2 * joint.tail_length_mm * math.tan(slope)
            if base < cut / 3 - NEAR and wide - 2 * joint.tail_length_mm * math.tan(slope) >= wide / 3:
                found.append(
                    f"{where}: tail {tail} would be {show(max(base, 0))} at the baseline once rounded to the scale"
                    f"{' on the widest board' if excess else ''}, less than a third of its {show(cut)} at the end; "
                    "expected a finer scale, a wider tail or boards of one width"
                )
    return found


def _further_in_mm(job: Job, settings: Settings, number: int, end: End, tail: int, faces: Edge) -> float:
    """How much further from the edge that it faces a side is cut on the widest board."""
    part = job.patterns[number].part
    rigged = job.rigged(settings.rig(settings.serves[number][end, tail, faces]))
    return 0.0 if rigged.shop.jig.wide_leads else part.widest_mm - part.width_mm


def _shift_of(job: Job, settings: Settings, number: int, end: End, tail: int, faces: Edge) -> float:
    side = (end, tail, faces)
    setting = settings.serves[number][side]
    return shift_mm(job.rigged(settings.rig(setting)), job.patterns[number], side, settings.fence_mm[setting])
