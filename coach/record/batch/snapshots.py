"""What a batch's events lead to, kept every so many events, so that a long batch is resumed at once.

A snapshot is never the truth: it is bound to an event by that event's link, checked by a checksum of its own, and where
anything about it is in doubt, everything is folded from the first event on.
"""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, astuple, replace
from typing import Any, NamedTuple

from coach.ground.terms import End, Side
from coach.plan.job import Board, Job, Pattern
from coach.plan.settings import Settings
from coach.plan.steps import BENCH_KINDS
from coach.plan.walking.bench_left import BenchKey
from coach.plan.walking.situation import FenceState, Situation
from coach.plan.walking.turns import LIES
from coach.plan.walking.walker import Walker
from coach.record.batch.stored import (
    joint_from_json,
    settings_from_json,
    settings_to_json,
    shop_from_json,
    shop_to_json,
)

_FORMAT = 1
_NOT_PUT_DOWN = "."


class Kept(NamedTuple):
    """What a snapshot says: the walk after its event, and which undos there had been."""

    walker: Walker
    undos: tuple[tuple[int, int], ...]


def snapshot_data(walker: Walker, undos: Sequence[tuple[int, int]], start: Job, settings: Settings) -> str:
    """What is kept of a walk, as JSON.

    Args:
        start: the job with which the batch was started, since only what has changed since is kept.
        settings: the settings with which it was started.
    """
    now = walker.situation()
    job = now.job
    known = dict(enumerate(start.boards))
    data: dict[str, Any] = {
        "format": _FORMAT,
        "undos": undos,
        "shop": None if job.shop == start.shop else shop_to_json(job.shop),
        "patterns": [_pattern_to_json(pattern, start) for pattern in job.patterns[len(start.patterns) :]],
        "boards": [astuple(board) for place, board in enumerate(job.boards) if known.get(place) != board],
        "settings": None if now.settings == settings else settings_to_json(now.settings),
        "done": _packed(_places(job, now.done)),
        "fence": astuple(now.fence),
        "lies": "".join(_lie_letter(now, board.number) for board in job.boards),
        "order": _order_to_json(now.order),
        "unprepared": now.unprepared,
        "benched": _packed(_bench_places(job, now.benched)),
        "out": sorted(now.out),
        "aside": sorted(now.aside),
        "board_first": now.board_first,
        "setting_first": now.setting_first,
        "in_hand": walker.in_hand,
    }
    return json.dumps(data, separators=(",", ":"))


def kept_in(data: str, start: Job, settings: Settings) -> Kept | None:
    """What `snapshot_data` was made of; None where that can't be told."""
    try:
        found = json.loads(data)
        if found["format"] != _FORMAT:
            return None
        job = _job(found, start)
        situation = Situation(
            job,
            settings if found["settings"] is None else settings_from_json(found["settings"]),
            done=_sides(job, found["done"]),
            fence=FenceState(*found["fence"]),
            lies={
                board.number: LIES[int(letter)]
                for board, letter in zip(job.boards, found["lies"], strict=True)
                if letter != _NOT_PUT_DOWN
            },
            order=_order(found["order"], len(job.boards)),
            unprepared=tuple(found["unprepared"]),
            benched=_bench_keys(job, found["benched"]),
            out=frozenset(found["out"]),
            aside=frozenset(found["aside"]),
            board_first=found["board_first"],
            setting_first=found["setting_first"],
        )
        walker = Walker(situation)
        walker.in_hand = found["in_hand"]
        return Kept(walker, tuple((number, of) for number, of in found["undos"]))
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError):
        return None


def _pattern_to_json(pattern: Pattern, start: Job) -> dict[str, Any]:
    """A mended board's pattern: an earlier one with other ends."""
    of = next(
        index for index, one in enumerate(start.patterns) if one.part == pattern.part and one.hand is pattern.hand
    )
    return {"of": of, "ends": {end.value: asdict(joint) for end, joint in pattern.ends.items()}}


def _job(found: Mapping[str, Any], start: Job) -> Job:
    patterns = list(start.patterns)
    for mended in found["patterns"]:
        ends = {End(end): joint_from_json(joint) for end, joint in mended["ends"].items()}
        patterns.append(replace(start.patterns[mended["of"]], ends=ends))
    boards = list(start.boards)
    for values in found["boards"]:
        board = Board(*values)
        if board.number <= len(boards):
            boards[board.number - 1] = board
        else:
            boards.append(board)
    shop = start.shop if found["shop"] is None else shop_from_json(found["shop"])
    return Job(start.layouts, shop, tuple(patterns), tuple(boards))


def _places(job: Job, done: Iterable[Side]) -> Iterator[int]:
    """The place of each side among all sides of all boards."""
    places = [{side: place for place, side in enumerate(pattern.sides())} for pattern in job.patterns]
    first, firsts = 0, []
    for board in job.boards:
        firsts.append(first)
        first += len(places[board.pattern])
    for side in done:
        place = places[job.boards[side.board - 1].pattern].get((side.end, side.tail, side.faces))
        if place is None:
            raise ValueError("a side that its board hasn't")
        yield firsts[side.board - 1] + place


def _sides(job: Job, packed: str) -> frozenset[Side]:
    sides = [pattern.sides() for pattern in job.patterns]
    bits = _bits(packed)
    place, found = 0, []
    for board in job.boards:
        for end, tail, faces in sides[board.pattern]:
            if place >> 3 < len(bits) and bits[place >> 3] >> (place & 7) & 1:
                found.append(Side(board.number, end, tail, faces))
            place += 1
    return frozenset(found)


def _bench_steps(job: Job) -> Iterator[BenchKey]:
    for kind in BENCH_KINDS:
        for board in job.boards:
            for end in job.patterns[board.pattern].ends:
                yield kind, board.number, end


def _bench_places(job: Job, benched: Iterable[BenchKey]) -> list[int]:
    if not benched:
        return []
    places = {step: place for place, step in enumerate(_bench_steps(job))}
    return [places[step] for step in benched]


def _bench_keys(job: Job, packed: str) -> frozenset[BenchKey]:
    if not packed:
        return frozenset()
    bits = _bits(packed)
    steps = zip(range(8 * len(bits)), _bench_steps(job), strict=False)
    return frozenset(step for place, step in steps if bits[place >> 3] >> (place & 7) & 1)


def _packed(places: Iterable[int]) -> str:
    """Bits at the given places, as text; trailing zeros needn't be there."""
    bits = bytearray()
    for place in places:
        if place >> 3 >= len(bits):
            bits.extend(bytes((place >> 3) + 1024 - len(bits)))
        bits[place >> 3] |= 1 << (place & 7)
    return b64encode(bytes(bits)).decode()


def _bits(packed: str) -> bytes:
    return b64decode(packed, validate=True)


def _lie_letter(now: Situation, board: int) -> str:
    lie = now.lies.get(board)
    return _NOT_PUT_DOWN if lie is None else str(LIES.index(lie))


def _order_to_json(order: Sequence[int]) -> str | list[int]:
    usual = list(range(1, len(order) + 1))
    if list(order) == usual:
        return "as numbered"
    return "reversed" if list(order) == usual[::-1] else list(order)


def _order(found: str | list[int], boards: int) -> tuple[int, ...]:
    if found == "as numbered":
        return tuple(range(1, boards + 1))
    if found == "reversed":
        return tuple(range(boards, 0, -1))
    return tuple(int(number) for number in found)
