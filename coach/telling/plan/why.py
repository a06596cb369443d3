"""Why a plan is the least work: the certificate as a person reads it, and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from coach.ground.terms import Edge, Turn
from coach.plan.helping.totals import Totals
from coach.plan.helping.why import (
    EndShifts,
    TurnsProof,
    Witness,
    end_shifts,
    out_of_reach,
    proves_fewest,
    turns_proofs,
    witnesses,
)
from coach.plan.job import Job, Pattern
from coach.plan.settings import Settings
from coach.plan.steps import Step
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker
from coach.telling.columns import columns
from coach.telling.phrases import Saying, counted, reading_at, rig_words
from coach.telling.plan.totals import duration, wrapped


def why_lines(job: Job, settings: Settings, steps: Sequence[Step], saying: Saying) -> list[str]:
    """Why no fewer settings and turns do, and what rounding shifts; in lines of a page."""
    walker = Walker(beginning(job, settings))
    return [
        *_settings(settings, witnesses(job, settings), walker, saying),
        "",
        *(_rigs(job, settings) if settings.rigs else ()),
        *_turns(job, settings, steps),
        "",
        *_rounding(job, settings, saying),
    ]


def why_as_json(job: Job, settings: Settings, steps: Sequence[Step], saying: Saying) -> dict[str, Any]:
    """The same as plain JSON values; lengths in mm, costs in seconds, settings from 1."""
    found = witnesses(job, settings)
    return {
        "settings": len(settings.fence_mm),
        "fewest": len(found),
        "proven": proves_fewest(found, settings),
        "sides": [
            {
                **_pattern_as_json(witness.pattern),
                "end": witness.side[0].value,
                "tail": witness.side[1],
                "faces": witness.side[2].value,
                "mark_mm": witness.mark_mm,
                "setting": witness.setting + 1,
                "fence_from_mm": witness.allowed.low,
                "fence_to_mm": witness.allowed.high,
                "reading_from": _read(job, settings, witness, witness.allowed.low, saying),
                "reading_to": _read(job, settings, witness, witness.allowed.high, saying),
            }
            for witness in found
        ],
        "turns": [
            {
                **_pattern_as_json(proof.pattern),
                "boards": proof.boards,
                "turns": {turn.value: proof.turns[turn] for turn in Turn},
                "cost_s": proof.spent_ms / 1000,
                "least_cost_s": proof.least_ms / 1000,
                "least_turns_counted": proof.counted,
                "least_cost_counted_s": proof.counted_ms / 1000,
                "proven": proof.spent_ms == proof.least_ms,
            }
            for proof in turns_proofs(job, settings, steps)
        ],
        "shifts": [
            {
                **_pattern_as_json(shifts.pattern),
                "end": shifts.end.value,
                "marks": [
                    {"tail": tail, "faces": faces.value, "shift_mm": shift}
                    for (tail, faces), shift in shifts.marks.items()
                ],
                "tails_wider_mm": list(shifts.tails),
                "sockets_wider_mm": list(shifts.sockets),
            }
            for shifts in end_shifts(job, settings)
        ],
    }


def _pattern_as_json(pattern: Pattern) -> dict[str, Any]:
    return {"part": pattern.part.label, "hand": None if pattern.hand is None else pattern.hand.value}


def _whose(pattern: Pattern) -> str:
    return pattern.part.label if pattern.hand is None else f"{pattern.part.label} ({pattern.hand})"


def _read(job: Job, settings: Settings, witness: Witness, fence_mm: float, saying: Saying) -> str:
    """What the scale of a witness's setting reads with the fence at F."""
    fence = job.rigged(settings.rig(witness.setting)).shop.fence
    return saying.on(fence).reading(fence_mm + fence.zero_mm)


def _settings(settings: Settings, found: Sequence[Witness], walker: Walker, saying: Saying) -> Iterator[str]:
    number = len(settings.fence_mm)
    yield "Why no fewer fence settings"
    if number == 1:
        yield from wrapped("There is one setting, and something is to be cut: nobody can do with fewer.")
    else:
        yield from wrapped(
            f"Here are {counted(len(found), 'side')}, and what the scale may read for each so that its mark is within "
            "tolerance. No two of these ranges overlap, so no two of these sides can share a setting."
        )
    width = len(str(len(found)))
    for place, witness in enumerate(found, 1):
        end, tail, faces = witness.side
        mark = saying.length(witness.mark_mm)
        said = f"{_whose(witness.pattern)}, end {end}, tail {tail}, {faces} side, {mark} from the {faces} edge:"
        indent = " " * (width + 4)
        yield from wrapped(said, indent, f"  {place:>{width}}  ")
        allowed = witness.allowed
        low, high = (_read(walker.job, settings, witness, at, saying) for at in (allowed.low, allowed.high))
        at = reading_at(walker, witness.setting, saying)
        yield from wrapped(f"{low} to {high}; setting {witness.setting + 1} stands at {at}", indent)
    if number > 1 and proves_fewest(found, settings):
        yield from wrapped(f"So {number} settings are the fewest that there can be, and the plan has {number}.")
    elif number > 1:
        yield from wrapped(f"So at least {len(found)} settings are needed; the plan has {number}.")


def _rigs(job: Job, settings: Settings) -> Iterator[str]:
    """Why no rig alone does, or no fewer of them."""
    used = sorted(set(settings.rigs))
    yield "Why no fewer changes of fence or jig" if len(used) > 1 else "Why not with the first fence and jig"
    for found in out_of_reach(job):
        said = rig_words(job.shop, found.rig)
        if found.first is None:
            why = "another slope"
        else:
            pattern, (end, tail, faces) = found.first
            why = f"{found.sides} of {counted(found.of, 'side')} out of reach, such as {_whose(pattern)}, end {end}, "
            why += f"tail {tail}, {faces} side"
        yield from wrapped(f"{said[0].upper()}{said[1:]}: {why}.", "    ", "  ")
    if len(used) > 2:
        yield from wrapped(f"Nor do any {len(used) - 1} of them together reach every side.")
    yield ""


def _turns(job: Job, settings: Settings, steps: Sequence[Step]) -> Iterator[str]:
    totals = Totals.of(steps)
    yield "Why no less handling"
    used = sum(len(set(settings.serves[board.pattern].values())) for board in job.boards)
    yield from wrapped(
        f"Each setting is made once: {counted(totals.moves, 'fence move')}. A board must be picked up at least once at "
        f"each setting that cuts it: {counted(used, 'time')} for all boards; the plan has {totals.pick_ups} pick-ups."
    )
    proofs = turns_proofs(job, settings, steps)
    for proof in proofs:
        yield from _turns_of(proof)
    if all(proof.spent_ms == proof.least_ms for proof in proofs):
        yield from wrapped(
            "Searched means: for every setting, every order of a board's cuts was carried on to the last setting, by "
            "another way of searching than the plan's own. With the settings in this order no turns cost less."
        )


def _turns_of(proof: TurnsProof) -> Iterator[str]:
    turned = ", ".join(f"{proof.turns[turn]} {turn.value}" for turn in Turn if proof.turns[turn]) or "no turns"
    each = " each" if proof.boards > 1 else ""
    yield from wrapped(
        f"{_whose(proof.pattern)}, {counted(proof.boards, 'board')}: {turned}{each}, {duration(proof.spent_ms)}{each}.",
        "    ",
        "  ",
    )
    bound = f"Searched: at least {duration(proof.least_ms)}."
    if proof.counted:
        bound += (
            f" Counted: at least {counted(proof.counted, 'turn')}, {proof.counted_swings} of them to the other end: at "
            f"least {duration(proof.counted_ms)}."
        )
    yield from wrapped(bound, "    ")


def _rounding(job: Job, settings: Settings, saying: Saying) -> Iterator[str]:
    yield "What rounding shifts"
    found = end_shifts(job, settings)
    if all(_none(shift, saying) for shifts in found for shift in shifts.marks.values()):
        yield from wrapped("Nothing: every setting stands where its marks are.")
        return
    yield from wrapped(
        "By how much each side is cut off its mark, along the end: + is into the tail, − into the socket. A tail has "
        "two sides and so has an inner socket: where both shift alike it changes by twice as much. A half-pin socket "
        "has one side. Pins marked from the tails follow; pins cut in a gang don't."
    )
    alike: dict[tuple[str, tuple[float, ...], int], list[EndShifts]] = {}
    for shifts in found:
        rounded = tuple(round(shift, 6) for shift in shifts.marks.values())
        marks = tuple(shifts.pattern.ends[shifts.end].mark_mm(*side) for side in shifts.marks)
        alike.setdefault((shifts.pattern.part.label, (*rounded, *marks), id(shifts.pattern.part)), []).append(shifts)
    for same in alike.values():
        yield from _end(same, saying)


def _end(same: Sequence[EndShifts], saying: Saying) -> Iterator[str]:
    shifts = same[0]
    hands = len({one.pattern.hand for one in same}) > 1 or shifts.pattern.hand is not None
    ends = [f"{one.pattern.hand} end {one.end}" if hands else f"end {one.end}" for one in same]
    yield from wrapped(f"{shifts.pattern.part.label}, {', '.join(ends)}", "    ", "  ")
    joint = shifts.pattern.ends[shifts.end]
    rows = [("tail", "from top", "shift", "from bottom", "shift", "tail becomes")]
    for tail, wider in enumerate(shifts.tails, 1):
        row = [str(tail)]
        for faces in (Edge.TOP, Edge.BOTTOM):
            row += [saying.length(joint.mark_mm(tail, faces)), _signed(shifts.marks[tail, faces], saying)]
        rows.append((row[0], row[1], row[2], row[3], row[4], _wider(wider, saying)))
    yield from (f"    {line}" for line in columns(rows, right=(0,)))
    sockets = "; ".join(_wider(wider, saying) for wider in shifts.sockets)
    yield from wrapped(f"sockets from the top edge: {sockets}", "      ", "    ")


def _signed(mm: float, saying: Saying) -> str:
    if _none(mm, saying):
        return "none"
    return f"{'+' if mm > 0 else '−'}{saying.length(abs(mm))}"


def _wider(mm: float, saying: Saying) -> str:
    if _none(mm, saying):
        return "as drawn"
    return f"{saying.length(abs(mm))} {'wider' if mm > 0 else 'narrower'}"


def _none(mm: float, saying: Saying) -> bool:
    """Whether so little is shown as nothing."""
    return saying.length(abs(mm)) == saying.length(0.0)
