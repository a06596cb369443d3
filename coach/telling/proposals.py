"""Proposed layouts as a person reads them: what moves when one is fitted, and what a family of drawers comes to."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from coach.joint.layout import EndLayout, Part
from coach.plan.reach import scale_grid
from coach.plan.settings import Settings
from coach.propose.bounds import limits_of
from coach.propose.family import WITHOUT_A_SCALE_MM, Proposal
from coach.propose.family_file import Family
from coach.propose.fit import Fit
from coach.propose.graduations import Graduations
from coach.shop.tools import Shop
from coach.telling.columns import columns
from coach.telling.phrases import Saying, counted, sample_shop_note

_ROUNDED_MM = 0.0005


def fit_lines(found: Fit, saying: Saying) -> Iterator[str]:
    """What fitting a layout to the scale changes: settings, and each mark, tail and socket."""
    shop = found.job.shop
    yield f"“{found.drawn.name}”, fitted to the fence's graduations of {saying.on(shop.fence).step()}"
    if shop.sample:
        yield sample_shop_note()
    yield f"as drawn: {_settings_as_drawn(found)}"
    yield f"fitted: {counted(len(found.after.fence_mm), 'fence setting')}, all on graduations"
    if found.narrowed_mm is not None:
        yield (
            f"its tolerance is {saying.length(found.narrowed_mm)}, so that no setting between two graduations serves "
            "the marks on both"
        )
    half = found.graduations.spacing_mm / 2
    further = False
    for part, fitted in zip(found.drawn.parts, found.fitted.parts, strict=True):
        blocks: dict[tuple[tuple[str, float, float], ...], list[str]] = {}
        for end, joint in part.ends.items():
            blocks.setdefault(tuple(_moved(part, joint, fitted.ends[end])), []).append(f"end {end}")
        for rows, ends in blocks.items():
            further |= any(what.startswith("mark") and abs(now - was) > half + _ROUNDED_MM for what, was, now in rows)
            yield ""
            yield f'part "{part.label}", {" and ".join(ends)}:'
            yield from (f"  {line}" for line in columns(_rows(rows, saying), right={1, 2, 3}))
    if further:
        yield ""
        yield (
            f"A mark that moves more than half a graduation ({saying.length(half)} along the end) does so because the "
            "nearest one would leave a socket or a tail too narrow."
        )


def family_lines(family: Family, found: Proposal, shop: Shop, saying: Saying) -> Iterator[str]:
    """A family's layouts, how few settings they need, and how sure that is."""
    drawers = counted(len(family.drawers), "drawer")
    boards = sum(drawer.boards + family.spares for drawer in family.drawers)
    yield f"“{family.name}”: {drawers}, {counted(boards, 'board')}"
    if shop.sample:
        yield sample_shop_note()
    if shop.fence.graduation is None:
        grid = saying.length(WITHOUT_A_SCALE_MM)
        yield f"the fence has no scale, so its settings are taken from a grid of {grid} of its travel"
        yield from _how_sure(found, "that grid")
    else:
        yield f"settings are taken from the graduations of the fence's scale, {saying.on(shop.fence).step()}"
        yield from _how_sure(found, "graduations")
    yield from _narrowed_ranges(family, shop, saying)
    yield ""
    rows = [("drawer", "tails", "half-pin socket", "tails' widths", "sockets between them")]
    for layout in found.layouts:
        part = layout.parts[0]
        joint = next(iter(part.ends.values()))
        sockets = joint.socket_widths_mm(part.width_mm)
        tails = joint.tail_widths_mm(part.width_mm)
        rows.append(
            (
                part.label,
                str(joint.tails),
                saying.length(sockets[0]),
                _from_to(tails, saying),
                _from_to(sockets[1:-1], saying) if joint.tails > 1 else "none",
            )
        )
    yield from columns(rows, right={1})
    yield ""
    labels: list[list[str]] = [[] for _ in found.settings.fence_mm]
    for layout, serving in zip(found.layouts, found.settings.serves, strict=True):
        for setting in sorted(set(serving.values())):
            labels[setting].append(layout.parts[0].label)
    readings = [saying.reading(fence + shop.fence.zero_mm) for fence in found.settings.fence_mm]
    rows_of_settings = [
        (str(number), reading, ", ".join(served))
        for number, (reading, served) in enumerate(zip(readings, labels, strict=True), 1)
    ]
    yield from columns([("setting", "reading", "serves"), *rows_of_settings], right={0, 1})
    yield ""


def _how_sure(found: Proposal, where: str) -> Iterator[str]:
    search = found.found
    settings = counted(search.settings, "fence setting")
    which = f"symmetrical layouts within these ranges and with every mark on {where}"
    if search.fewest:
        yield f"{settings}: no {which} need fewer, that is proven"
    else:
        yield (
            f"{settings}, the best found before the search ended; proven is only that {which} need "
            f"{search.at_least} or more"
        )
    between = f", of which some serve marks beside {where}" if found.even < search.settings else ""
    yield f"evenly spaced tails, as many on each board, would need {found.even}{between}"
    if search.fewest and search.evenest:
        yield "of all that need no more these have the evenest tails, proven (widest less narrowest, over all drawers)"
    elif search.fewest:
        yield "their tails are the evenest found before the search ended; evener ones may exist"


def _narrowed_ranges(family: Family, shop: Shop, saying: Saying) -> Iterator[str]:
    """Says where the blade or the slope allow less than a range does."""
    graduations = Graduations.of(shop, otherwise_mm=WITHOUT_A_SCALE_MM)
    assert graduations is not None
    limits = limits_of(family, graduations)
    kerf = f"the kerf takes {saying.length(shop.saw.kerf_mm / math.cos(shop.jig.slope))} along the end"
    half_from, half_to = family.half_pin_mm
    for what, wanted, found, why in (
        ("half-pin sockets", half_from if half_from < half_to else math.inf, limits.half_pin[0], kerf),
        ("pins", family.pin_mm[0], limits.pin[0], kerf),
        ("tails", family.tail_mm[0], limits.tail[0], "they must keep a third of their width at the baseline"),
    ):
        if found > wanted + 1e-9:
            yield f"{what} were taken from {saying.length(found)} on, since {why}"


def _settings_as_drawn(found: Fit) -> str:
    if found.before is None:
        return "rounded to this scale, a tail or a socket would be spoiled"
    on = _on_graduations(found.before, found)
    return f"{counted(len(found.before.fence_mm), 'fence setting')}, {on} of them on graduations"


def _on_graduations(settings: Settings, found: Fit) -> int:
    grid = scale_grid(found.job)
    assert grid is not None
    return sum(grid.has(fence) for fence in settings.fence_mm)


def _rows(rows: Sequence[tuple[str, float, float]], saying: Saying) -> list[tuple[str, str, str, str]]:
    """A heading and a row for each of what an end's marks, tails and sockets were and are."""
    return [
        ("", "as drawn", "fitted", ""),
        *((what, saying.length(was), saying.length(now), _change(now - was, saying)) for what, was, now in rows),
    ]


def _change(mm: float, saying: Saying) -> str:
    size = saying.length(abs(mm))
    if size == saying.length(0):
        return "as it was"
    return f"{'+' if mm > 0 else '−'} {size}"


def _moved(part: Part, drawn: EndLayout, fitted: EndLayout) -> Iterator[tuple[str, float, float]]:
    """What an end's marks, tails and sockets were and are, each with its name."""
    symmetrical = drawn.top_marks_mm == drawn.bottom_marks_mm
    pairs = [("either edge" if symmetrical else "the top edge", drawn.top_marks_mm, fitted.top_marks_mm)]
    if not symmetrical:
        pairs.append(("the bottom edge", drawn.bottom_marks_mm, fitted.bottom_marks_mm))
    for edge, before, after in pairs:
        for number, (was, now) in enumerate(zip(before, after, strict=True), 1):
            yield f"mark {number} from {edge}", was, now
    tails = list(zip(drawn.tail_widths_mm(part.width_mm), fitted.tail_widths_mm(part.width_mm), strict=True))
    sockets = list(zip(drawn.socket_widths_mm(part.width_mm), fitted.socket_widths_mm(part.width_mm), strict=True))
    yield "half-pin socket at the top edge", *sockets[0]
    for number, tail in enumerate(tails, 1):
        yield f"tail {number}", *tail
        name = f"socket between tails {number} and {number + 1}"
        yield name if number < len(tails) else "half-pin socket at the bottom edge", *sockets[number]


def _from_to(widths: Sequence[float], saying: Saying) -> str:
    low, high = saying.length(min(widths)), saying.length(max(widths))
    return low if low == high else f"{low} to {high}"
