"""A stop block on the jig's travel, as a person reads it and as JSON."""

from __future__ import annotations

from typing import Any

from coach.plan.helping.stop_block import Stop, corner_mm, stop_moves, stops
from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.telling.columns import columns
from coach.telling.phrases import Saying
from coach.telling.plan.totals import wrapped
from coach.telling.steps.stop import rooms_mm, stop_limits


def stop_lines(job: Job, settings: Settings, saying: Saying) -> list[str]:
    """Where the stop goes for each setting, and how long the cuts are; in lines of a page."""
    found = stops(job)
    moves = stop_moves(job, settings, found)
    lines = ["A stop block on the jig's travel"]
    if len(found) == 1:
        only = found[0]
        lines += wrapped(
            f"One stop serves: all tails are {saying.length(only.tail_length_mm)} long, and each cut is "
            f"{saying.length(only.cut_mm)} long (the tail's length over the cosine of the slope)."
        )
    else:
        lines += wrapped(
            f"{len(found)} stops are needed, since the tails are of {len(found)} lengths. They stand at fixed "
            "distances and move together; let down or take away the ones that aren't in use."
        )
        for number, stop in enumerate(found, 1):
            place = f", {saying.length(stop.beyond_mm)} further from you than stop 1" if number > 1 else ""
            said = (
                f"stop {number}{place}: tails {saying.length(stop.tail_length_mm)} long, cut "
                f"{saying.length(stop.cut_mm)} long ({_served(stop)})"
            )
            lines += wrapped(said, "    ", "  ")
    rows = [("setting", "mark", "stop moves", "stops in use")]
    for number, move in enumerate(moves, 1):
        far = "set by a scrap cut" if move.move_mm is None else _moved(move.move_mm, saying)
        used = ", ".join(str(index + 1) for index in move.stops)
        rows.append((str(number), saying.length(move.mark_mm), far, used))
    shown = [row if len(found) > 1 else row[:3] for row in rows]
    lines += ["", *columns(shown, right=(0,)), ""]
    for limit in stop_limits(job, settings, saying):
        lines += wrapped(limit)
    lines += wrapped(
        "Marks are from the edge at the jig, as cut. Set each stop where the kerf's first corner touches the baseline: "
        f"the kerf's bottom is square to the travel, so its corner in the waste runs {saying.length(corner_mm(job))} "
        "deeper than the one on the mark."
    )
    return lines


def stop_as_json(job: Job, settings: Settings) -> dict[str, Any]:
    """The same as plain JSON values; lengths in mm, moves positive away from the person, stops and settings from 1."""
    found = stops(job)
    return {
        "stops": [
            {
                "tail_length_mm": stop.tail_length_mm,
                "cut_mm": stop.cut_mm,
                "beyond_first_mm": stop.beyond_mm,
                "ends": [
                    {
                        "part": pattern.part.label,
                        "hand": None if pattern.hand is None else pattern.hand.value,
                        "end": end.value,
                    }
                    for pattern, end in stop.ends
                ],
            }
            for stop in found
        ],
        "settings": [
            {
                "setting": number,
                "mark_mm": move.mark_mm,
                "move_mm": move.move_mm,
                "stops": [index + 1 for index in move.stops],
                "stop_reaches_less_than_mm": room_mm,
            }
            for number, (move, room_mm) in enumerate(
                zip(stop_moves(job, settings, found), rooms_mm(job, settings), strict=True), 1
            )
        ],
    }


def _served(stop: Stop) -> str:
    """The ends that a stop serves, those of one part together."""
    ends: dict[str, list[str]] = {}
    for pattern, end in stop.ends:
        hand = "" if pattern.hand is None else f"{pattern.hand} "
        ends.setdefault(pattern.part.label, []).append(f"{hand}end {end}")
    return "; ".join(f"{label}: {', '.join(dict.fromkeys(which))}" for label, which in ends.items())


def _moved(mm: float, saying: Saying) -> str:
    if saying.length(abs(mm)) == saying.length(0.0):
        return "stays"
    return f"{saying.length(abs(mm))} {'away from' if mm > 0 else 'towards'} you"
