"""The kinds of events, what they hold, and the situation as a fold over them."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from coach.ground.errors import CoachError
from coach.ground.terms import Edge, End, Face, Side, Turn
from coach.plan.job import Job, make_job
from coach.plan.settings import Settings
from coach.plan.steps import BENCH_KINDS, FIRST_TOPICS, Step, StepKind
from coach.plan.walking.alike_ends import first_topics
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker
from coach.record.batch.stored import (
    layout_from_json,
    layout_to_json,
    settings_from_json,
    settings_to_json,
    shop_from_json,
    shop_to_json,
)
from coach.record.batch.taking_back import undone_numbers
from coach.record.kinds import CHANGE_KINDS, KNOWN_KINDS, RETURN, SETTINGS, START, STEP_KINDS
from coach.record.rows import Event, NewEvent, Tally

_MAY_BE_A_KIND = re.compile("[a-z][a-z-]{1,30}")


def start_events(job: Job, settings: Settings, unit: str, name: str | None = None) -> list[NewEvent]:
    """The events with which a batch begins: its own copy of layouts and shop, what is prepared first, and its settings,
    decided once; and its name, so that the first event can be checked where the batch's row is lost."""
    start = {
        "layouts": [layout_to_json(layout) for layout in job.layouts],
        "shop": shop_to_json(job.shop),
        "unit": unit,
        "topics": list(first_topics(job)),
        **({} if name is None else {"name": name}),
    }
    return [(START, start), (SETTINGS, settings_to_json(settings))]


def step_event(job: Job, step: Step, measured_mm: float | None, reading: str | None) -> NewEvent:
    """The event that says that `step` was done; `reading` is what the scale should have read, as shown."""
    data: dict[str, Any] = {}
    match step.kind:
        case StepKind.PREPARE:
            data["topic"] = step.topic
        case StepKind.SET_FENCE:
            data |= {"setting": step.setting, "reading": reading, "fence_mm": step.fence_mm}
        case StepKind.CHECK:
            data |= {"setting": step.setting, "mark_mm": step.mark_mm, "measured_mm": measured_mm}
        case StepKind.CUT:
            assert step.side is not None and step.edge is not None and step.face_up is not None
            side = step.side
            data |= {
                "number": side.board,
                "board": job.board(side.board).label,
                "end": side.end.value,
                "tail": side.tail,
                "faces": side.faces.value,
                "edge": step.edge.value,
                "face_up": step.face_up.value,
                "turn": None if step.turn is None else step.turn.value,
                "setting": step.setting,
                "mark_mm": step.mark_mm,
            }
        case _:
            assert step.board is not None and step.end is not None
            data |= {"number": step.board, "board": job.board(step.board).label, "end": step.end.value}
    return step.kind.value, data


def step_of(event: Event) -> Step:
    """The step that an event says was done."""
    data = event.data
    kind = StepKind(event.kind)
    match kind:
        case StepKind.PREPARE:
            return Step(kind, topic=data["topic"])
        case StepKind.SET_FENCE:
            return Step(kind, setting=data["setting"], fence_mm=data.get("fence_mm"))
        case StepKind.CHECK:
            return Step(kind, setting=data["setting"], mark_mm=data["mark_mm"])
        case StepKind.CUT:
            return Step(
                kind,
                setting=data["setting"],
                side=Side(data["number"], End(data["end"]), data["tail"], Edge(data["faces"])),
                edge=Edge(data["edge"]),
                face_up=Face(data["face_up"]),
                mark_mm=data["mark_mm"],
                turn=None if data["turn"] is None else Turn(data["turn"]),
            )
    return Step(kind, board=data["number"], end=End(data["end"]))


def apply_event(walker: Walker, event: Event) -> None:
    """Moves the walk on by one event that stands."""
    if event.kind == RETURN:
        walker.come_back()
    elif event.kind in STEP_KINDS:
        walker.advance(step_of(event), event.data.get("measured_mm"))


def fold(events: Sequence[Event]) -> Walker:
    """The walk as far as `events` (all of a batch) have brought it.

    CoachError if a newer coach wrote kinds of events that this one doesn't know, or if the batch has no beginning.
    """
    refuse_unknown(events)
    (_, walker), *_ = deque(folding(events), maxlen=1)
    return walker


def begun(events: Sequence[Event]) -> Walker:
    """The walk after a batch's first two events."""
    job, settings = job_of(events[0].data), settings_from_json(events[1].data)
    return Walker(beginning(job, settings, events[0].data.get("topics", FIRST_TOPICS)))


def unknown_kinds(events: Sequence[Event]) -> list[str]:
    """The kinds of events that this program doesn't know."""
    return sorted({event.kind for event in events} - KNOWN_KINDS)


def of_a_newer_coach(events: Sequence[Event]) -> bool:
    """Whether there are events of unknown kinds, all of which may be those of a newer program."""
    strange = unknown_kinds(events)
    return bool(strange) and all(_MAY_BE_A_KIND.fullmatch(kind) for kind in strange)


def refuse_unknown(events: Sequence[Event]) -> None:
    """CoachError if there are events of kinds that this program doesn't know."""
    strange = unknown_kinds(events)
    if strange:
        kinds = ", ".join(kind if kind.isprintable() else ascii(kind) for kind in strange[:3])
        raise CoachError(f"the batch holds events of the kind {kinds}, which a newer coach must have written")


def folding(events: Sequence[Event]) -> Iterator[tuple[int, Walker]]:
    """The walk after each of `events` (all of a batch) that stands, with its number; the first after the settings.

    CoachError if the batch has no beginning.
    """
    if [event.kind for event in events[:2]] != [START, SETTINGS]:
        raise CoachError("the batch has no beginning: its layouts and settings are missing from the record")
    walker = begun(events)
    yield 2, walker
    undone = undone_numbers(events)
    for event in events[2:]:
        if event.number in undone:
            continue
        if event.kind in CHANGE_KINDS:
            walker = changed(walker, event)
        else:
            apply_event(walker, event)
        yield event.number, walker


def changed(walker: Walker, event: Event) -> Walker:
    """The walk after a change of the batch: a new one, beside which the old one stays as it is.

    CoachError if that can't be.
    """
    from coach.record.batch.change_events import CHANGES  # most batches have none, and resuming them is quicker without

    changed = Walker(CHANGES[event.kind](walker.situation(), event.data))
    changed.in_hand = walker.in_hand
    return changed


def job_of(start: Mapping[str, Any]) -> Job:
    """The job that a batch keeps its own copy of."""
    return make_job([layout_from_json(layout) for layout in start["layouts"]], shop_from_json(start["shop"]))


def tally_of(walker: Walker, step: Step | None = None) -> Tally:
    """How far a batch is, from its walk alone, once `step` is done as well."""
    cuts_left = walker.cuts_left_in_all - (step is not None and step.kind is StepKind.CUT)
    left = cuts_left + walker.steps_at_bench_left - (step is not None and step.kind in BENCH_KINDS)
    return Tally(walker.cuts_in_all, walker.cuts_in_all - cuts_left, left, finished=left == 0)
