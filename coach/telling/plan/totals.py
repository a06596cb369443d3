"""What a plan costs at the saw, on the plan's page and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import Any

from coach.ground.terms import Turn
from coach.plan.helping.totals import Cost, Totals
from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.plan.steps import BENCH_KINDS, Step
from coach.telling.phrases import counted

PAGE = 80


def duration(ms: int) -> str:
    """Such as "15.8 s", "26 min" or "1 h 12 min"."""
    if ms < 60_000:
        return f"{ms / 1000:.1f}".removesuffix(".0") + " s"
    minutes = round(ms / 60_000)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60} min"


def wrapped(text: str, indent: str = "", first: str | None = None) -> list[str]:
    """`text` in lines of a page; `first` stands before the first line, `indent` before the others."""
    before = indent if first is None else first
    return wrap(
        text, PAGE, initial_indent=before, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )


def totals_lines(job: Job, steps: Sequence[Step]) -> Iterator[str]:
    """Fence moves, boards picked up, turns, and what they come to by the costs in the shop file."""
    totals, cost = Totals.of(steps), Cost.of(job, steps)
    turned = ", ".join(f"{totals.turns[turn]} {turn.value}" for turn in Turn if totals.turns[turn]) or "none"
    yield f"The fence is set {_times(totals.moves)}, boards are picked up {_times(totals.pick_ups)}."
    yield f"Turns: {turned}."
    parts = [
        f"{what} {duration(ms)}"
        for what, ms in (
            ("setting the fence", cost.fence_ms),
            ("picking up", cost.pick_up_ms),
            ("turning", cost.turns_ms),
            (f"switching off {_times(cost.switch_offs)}", cost.switch_off_ms),
        )
        if ms
    ]
    if parts:
        yield from wrapped(f"Handling comes to about {duration(cost.total_ms)}: {', '.join(parts)}.")
    bench = sum(step.kind in BENCH_KINDS for step in steps)
    yield f"Then {counted(bench, 'step')} at the bench: waste cleared; pins marked, sawn and fitted."


def totals_as_json(job: Job, steps: Sequence[Step]) -> dict[str, Any]:
    """The same as plain JSON values; costs in seconds."""
    totals, cost = Totals.of(steps), Cost.of(job, steps)
    return {
        "moves": totals.moves,
        "pick_ups": totals.pick_ups,
        "turns": {turn.value: totals.turns[turn] for turn in Turn},
        "switch_offs": cost.switch_offs,
        "cost_s": cost.total_ms / 1000,
        "costs_s": {
            "fence_moves": cost.fence_ms / 1000,
            "pick_ups": cost.pick_up_ms / 1000,
            "turns": cost.turns_ms / 1000,
            "switch_offs": cost.switch_off_ms / 1000,
        },
    }


def order_lines(job: Job, settings: Settings) -> list[str]:
    """What the order of the settings means for the corner on which stop and jig bear.

    Marks count from the edge at the jig here. A wide-leading jig cuts from that edge inwards, so its largest mark
    leaves the corner alone the longest; a narrow-leading one cuts towards the other edge, whose corner comes to the jig
    next.
    """
    if len(settings.fence_mm) < 2:
        return []
    if settings.rigs:
        return [line for rig in dict.fromkeys(settings.rigs) for line in _order_of_rig(job.rigged(rig), settings, rig)]
    return _order(job, settings)


def _order_of_rig(job: Job, settings: Settings, rig: int) -> list[str]:
    """The same for the settings of one rig of several."""
    if settings.rigs.count(rig) < 2:
        return []
    where = f"Fence at the {job.shop.fence.side}, jig “{job.shop.jig.name}”: "
    return wrapped(where + " ".join(_order(job, settings)))


def _order(job: Job, settings: Settings) -> list[str]:
    which = "Smallest" if settings.smallest_first else "Largest"
    if settings.smallest_first is not job.shop.jig.wide_leads:
        text = f"{which} mark first: the corner on which stop and jig bear stays solid until the last setting."
    else:
        text = (
            f"{which} mark first: from the first setting on there is a kerf beside the corner on which stop and jig "
            "bear, so leave the waste in and bring the board up to the stop gently."
        )
    return wrapped(text)


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"
