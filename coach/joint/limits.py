"""What wood and blade don't allow: layouts that can't be cut or that couldn't hold."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from coach.ground.lengths import show_slope
from coach.ground.terms import End
from coach.joint.layout import EndLayout, Layout, Part

Show = Callable[[float], str]
NEAR_SLOPES = math.radians(0.1)
NARROWEST_BASE = 1 / 3  # of a tail's width at the end
_TAILS = ("tails", "proportions", "top_marks")


@dataclass(frozen=True, slots=True)
class Problem:
    """What is impossible, and which key of the layout's file it comes from.

    Attributes:
        keys: the first of them that the file gives is to blame.
        part: the number of the part in its layout, from 0; None if it is about the whole layout.
        end: None if it is about the whole part.
    """

    text: str
    keys: tuple[str, ...]
    part: int | None = None
    end: End | None = None


def problems(layout: Layout, slope: float, kerf_mm: float, show: Show, *, wide_leads: bool = True) -> list[Problem]:
    """Everything about `layout` that is impossible with a jig of `slope` (radians) and a blade of `kerf_mm`.

    Args:
        show: how a length in mm is shown.
        wide_leads: whether the jig's wide end leads, so that it lies next to the half-pin socket that is cut.
    """
    found = []
    if layout.slope is not None and abs(layout.slope - slope) > NEAR_SLOPES:
        found.append(
            Problem(
                f"the layout is drawn for {show_slope(layout.slope)}, the jig has {show_slope(slope)}; "
                "expected them within 0.1°: use another jig, or draw the layout for this one",
                ("slope",),
            )
        )
    for number, part in enumerate(layout.parts):
        said: dict[tuple[tuple[str, ...], str], list[End]] = {}
        for end, joint in part.ends.items():
            for what in _end_problems(part, joint, slope, kerf_mm, show, wide_leads=wide_leads):
                said.setdefault(what, []).append(end)
        for (keys, text), ends in said.items():
            which = " and ".join(f"end {end}" for end in ends)
            found.append(Problem(f'part "{part.label}", {which}: {text}', keys, number, ends[0]))
        taken = sum(joint.tail_length_mm for joint in part.ends.values())
        if taken >= part.length_mm:
            text = (
                f'part "{part.label}": {show(part.length_mm)} is all taken by the tails ({show(taken)}); '
                "expected a longer board"
            )
            found.append(Problem(text, ("length",), number))
        if layout.tolerance_mm is not None:
            found += _tolerance_problems(layout.tolerance_mm, part, slope, show)
    return found


def end_problems(part: Part, joint: EndLayout, slope: float, kerf_mm: float, show: Show) -> list[str]:
    """What would be impossible about a board of `part` with `joint` at one end."""
    return [text for _, text in _end_problems(part, joint, slope, kerf_mm, show, wide_leads=True)]


def _tolerance_problems(tolerance_mm: float, part: Part, slope: float, show: Show) -> list[Problem]:
    narrowest = min(
        (min(joint.tail_widths_mm(part.width_mm, joint.tail_length_mm, slope)) for joint in part.ends.values()),
        default=0.0,
    )
    if narrowest <= 0 or tolerance_mm <= narrowest / 4:
        return []
    text = (
        f'{show(tolerance_mm)} is more than a quarter of the narrowest tail of part "{part.label}" at the baseline '
        f"({show(narrowest)}); expected a small fraction of it"
    )
    return [Problem(text, ("tolerance",))]


def _end_problems(
    part: Part, joint: EndLayout, slope: float, kerf_mm: float, show: Show, *, wide_leads: bool
) -> Iterator[tuple[tuple[str, ...], str]]:
    """What is impossible at one end, each with the keys that it may come from."""
    width = part.width_mm
    beyond = [
        (
            (f"{edge}_marks", "half_pin"),
            f"the mark {show(mark)} from the {edge} edge is beyond the board, which is {show(width)} wide",
        )
        for edge, marks in (("top", joint.top_marks_mm), ("bottom", joint.bottom_marks_mm))
        for mark in marks
        if mark >= width
    ]
    if beyond:
        yield from beyond
        return
    widths = joint.tail_widths_mm(width)
    bases = joint.tail_widths_mm(width, joint.tail_length_mm, slope)
    for tail, (wide, base), like in _alike(zip(widths, bases, strict=True)):
        if wide <= 0:
            how = f"cross by {show(-wide)}" if wide < 0 else "meet"
            text = (
                f"tail {tail + 1}{like} has no width: its two marks {how}; expected marks that leave wood between them"
            )
            yield _TAILS, text
        elif base < wide * NARROWEST_BASE:
            narrows = f"is only {show(base)} wide at" if base > 0 else "comes to a point before it reaches"
            yield (
                _TAILS,
                f"tail {tail + 1}{like}, {show(wide)} wide at the end, {narrows} the baseline, "
                f"{show(joint.tail_length_mm)} further in; expected at least a third of its width there: "
                "fewer or wider tails",
            )
    sound = True
    for keys, text in _sockets(joint, joint.socket_widths_mm(width), slope, kerf_mm, show, "", wide_leads=wide_leads):
        sound = False
        yield keys, text
    if sound and wide_leads and part.widest_mm > width:
        when = f" on the widest board ({show(part.widest_mm)})"
        for _, text in _sockets(joint, _on_wider_board(joint, part), slope, kerf_mm, show, when, wide_leads=wide_leads):
            yield ("widest",), text


def _on_wider_board(joint: EndLayout, part: Part) -> list[float]:
    """Sockets when the marks count from both edges in turn: a board too wide by e has inner sockets narrower by e.

    With a jig whose narrow end leads they count from the far edges, so that sockets become wider.
    """
    widths = joint.socket_widths_mm(part.width_mm)
    excess = part.widest_mm - part.width_mm
    return [widths[0], *(width - excess for width in widths[1:-1]), widths[-1]]


def socket_problems(
    joint: EndLayout, widths_mm: list[float], slope: float, kerf_mm: float, show: Show, when: str
) -> list[str]:
    """Sockets that the blade doesn't fit into; `when` says of which board or state the widths are.

    At the slope, the kerf takes kerf/cos(slope) along the end. A half-pin socket narrower than that has the blade run
    out through the edge, and into the jig if its wide end leads.
    """
    return [text for _, text in _sockets(joint, widths_mm, slope, kerf_mm, show, when, wide_leads=True)]


def _sockets(
    joint: EndLayout, widths_mm: list[float], slope: float, kerf_mm: float, show: Show, when: str, *, wide_leads: bool
) -> Iterator[tuple[tuple[str, ...], str]]:
    needed = kerf_mm / math.cos(slope)
    for number, (width, inner), like in _alike((width, 0 < n < joint.tails) for n, width in enumerate(widths_mm)):
        if width >= needed - 1e-9:
            continue
        if inner:
            keys: tuple[str, ...] = ("pin", "bottom_marks")
            tails = f"tails {number} and {number + 1}{like}"
            if width <= 0:
                how = f"overlap by {show(-width)}" if width < 0 else "touch"
                yield keys, f"{tails} {how}{when}; expected a socket of at least {show(needed)} between them"
                continue
            which, why = f"the socket between {tails}", "the blade doesn't fit"
        else:
            edge = "top" if number == 0 else "bottom"
            keys = ("half_pin", f"{edge}_marks")
            which = f"the half-pin socket at {'either' if like else f'the {edge}'} edge"
            why = "the blade would saw the jig" if wide_leads else "the blade would run out through the edge"
        yield (
            keys,
            f"{which} is {show(width)} wide at the end{when}; {why}: expected at least {show(needed)} "
            f"(kerf {show(kerf_mm)} over the cosine of the slope)",
        )


def _alike(sizes: Iterable[tuple[float, float]]) -> Iterator[tuple[int, tuple[float, float], str]]:
    """The first of all that are of one size, with its number from 0 and with how many others are like it in words."""
    firsts: dict[tuple[float, float], list[int]] = {}
    found = list(sizes)
    for number, (first, second) in enumerate(found):
        firsts.setdefault((round(first, 6), round(second, 6)), []).append(number)
    for numbers in firsts.values():
        others = len(numbers) - 1
        like = f" (and {others} {'others' if others > 1 else 'other'} like it)" if others else ""
        yield numbers[0], found[numbers[0]], like
