"""Layouts with fewer tails, or with wider half-pin sockets, for a saw that can't reach the one that was drawn."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from coach.joint.layout import EndLayout, Layout, Part
from coach.joint.limits import Show, problems
from coach.joint.spacing import proportioned
from coach.plan.deciding.rigs import usable_rigs
from coach.plan.job import Job
from coach.plan.reach import reaches

ALIKE_MM = 0.01  # sockets and half-pin sockets that differ by less were laid out alike


def other_tails(job: Job, show: Show) -> Iterator[tuple[list[Layout], str]]:
    """Layouts that can be sawn, with what is different in words: first with as few tails less as can be, then with
    half-pin sockets so wide that the boards pass the column. Whether they are within reach is to be tried."""
    jig, saw = job.shop.jig, job.shop.saw
    parts = [part for layout in job.layouts for part in layout.parts]
    least = max(part.widest_mm - (saw.throat_mm - saw.kerf_mm) / math.cos(jig.slope) for part in parts)
    most = max(joint.tails for pattern in job.patterns for joint in pattern.ends.values())
    for wider in dict.fromkeys((0.0, float(math.ceil(max(least, 0.0))))):
        for fewer in range(most):
            found = _redrawn(job, fewer, wider) if fewer or wider else None
            if found is None:
                continue
            layouts, changes = found
            slope, kerf = jig.slope, saw.kerf_mm
            if not any(problems(layout, slope, kerf, show, wide_leads=jig.wide_leads) for layout in layouts):
                yield layouts, "; ".join(_said(changes, show))


Change = tuple[Part, EndLayout, EndLayout]


def _redrawn(job: Job, fewer: int, half_pin_mm: float) -> tuple[list[Layout], list[Change]] | None:
    """The layouts with evenly spaced ends that are out of reach drawn anew, so many tails fewer and with half-pin
    sockets of at least so much; None if one of them wasn't evenly spaced or has no tails to spare."""
    changes: list[Change] = []
    layouts = []
    for layout in job.layouts:
        parts = []
        for part in layout.parts:
            ends = dict(part.ends)
            for end, joint in part.ends.items():
                if all(_reached(job, part, joint)):
                    continue
                drawn = _evenly(part, joint, joint.tails - fewer, half_pin_mm)
                if drawn is None:
                    return None
                ends[end] = drawn
                changes.append((part, joint, drawn))
            parts.append(replace(part, ends=ends))
        layouts.append(replace(layout, parts=tuple(parts)))
    return layouts, changes


def _reached(job: Job, part: Part, joint: EndLayout) -> Iterator[bool]:
    """Whether each side of an end is within reach of some rig."""
    for pattern in job.patterns:
        if pattern.part.label != part.label or joint not in pattern.ends.values():
            continue
        for side in pattern.sides():
            if pattern.ends[side[0]] == joint:
                yield any(reaches(job.rigged(rig), pattern, side) for rig in usable_rigs(job))


def _evenly(part: Part, joint: EndLayout, tails: int, half_pin_mm: float) -> EndLayout | None:
    """An evenly spaced end with another number of tails; None if it wasn't evenly spaced, or if it would look odd: less
    than half as many tails, or half-pin sockets made wider than a tail."""
    widths = joint.socket_widths_mm(part.width_mm)
    spaced = joint.tail_widths_mm(part.width_mm)
    even = max(spaced) - min(spaced) < ALIKE_MM and abs(widths[0] - widths[-1]) < ALIKE_MM
    even = even and (joint.tails == 1 or max(widths[1:-1]) - min(widths[1:-1]) < ALIKE_MM)
    if not even or tails < 1 or 2 * tails < joint.tails:
        return None
    half = Fraction(max(widths[0], half_pin_mm)).limit_denominator(1_000_000)
    pin = Fraction(widths[1] if joint.tails > 1 else 0.0).limit_denominator(1_000_000)
    width = Fraction(part.width_mm).limit_denominator(1_000_000)
    if width <= 2 * half + (tails - 1) * pin:
        return None
    if half_pin_mm and half > (width - 2 * half - (tails - 1) * pin) / tails:
        return None
    marks = proportioned(width, half, pin, [Fraction(1)] * tails)
    top, bottom = (tuple(float(mark) for mark in edge) for edge in marks)
    return replace(joint, top_marks_mm=top, bottom_marks_mm=bottom)


def _said(changes: Iterable[Change], show: Show) -> Iterator[str]:
    said: dict[str, None] = {}
    for part, was, now in changes:
        half = now.top_marks_mm[0]
        wide = now.tail_widths_mm(part.width_mm)[0]
        many = f"{now.tails} tails of {show(wide)}" if now.tails > 1 else f"one tail of {show(wide)}"
        text = f'part "{part.label}": {many} instead of {was.tails} of {show(was.tail_widths_mm(part.width_mm)[0])}'
        if half - was.top_marks_mm[0] > ALIKE_MM:
            text += f", half-pin sockets {show(half)} instead of {show(was.top_marks_mm[0])}"
        said[text] = None
    yield from said
