"""How the batches of several copies of a record go together: the longest course of each that was really written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field

from coach.record.batch.session import name_after
from coach.record.batch.shapes import misfit
from coach.record.batch.stored import layout_from_json
from coach.record.chain import beginning, link
from coach.record.json_text import quick_json
from coach.record.kinds import START
from coach.record.rescue.copies import Copy, Heading, Row
from coach.record.rows import Event

GAP, OTHER_COURSE = "after a gap", "another course of the work"
_NAMELESS = "recovered"


@dataclass
class Part:
    """A batch as one copy has it."""

    copy: Copy
    batch: int

    @property
    def heading(self) -> Heading | None:
        """Its row in the table of batches, if it can be read."""
        return self.copy.headings.get(self.batch)

    @property
    def rows(self) -> dict[int, list[Row]]:
        """Its events by number."""
        return self.copy.rows.get(self.batch, {})

    def genuine_heading(self) -> Heading | None:
        """Its row, if its seal, or the first event's link, says that name and beginning are as they were written."""
        heading = self.heading
        if heading is None or heading.proven:
            return heading
        before = beginning(heading.name, heading.started)
        return heading if any(_follows(before, row) for row in self.rows.get(1, ())) else None


@dataclass(frozen=True, slots=True)
class Salvaged:
    """A batch put together from the copies of it.

    Attributes:
        name, started: as they were, or as they can be told; the name is None where nothing says it.
        rows: the longest run from number 1 without a gap in which each event is what was written.
        sources: which copies that run comes from, in words, in the order in which they are needed.
        leftovers: what else can be read and was written, each with why it isn't in the run.
        known: how many events it had, as far as is known.
        unsure: whether nothing says that its first event is as it was written.
        latest: tells which batch was worked on last.
    """

    name: str | None
    started: str | None
    rows: tuple[Row, ...]
    sources: tuple[str, ...]
    leftovers: tuple[tuple[str, Row], ...]
    known: int
    unsure: bool
    latest: int

    @property
    def called(self) -> str:
        """The batch in words."""
        return "A batch whose name can't be read" if self.name is None else f"“{self.name}”"


def put_together(copies: Sequence[Copy]) -> list[Salvaged]:
    """The batches of all copies, each once, those worked on last at the end.

    Args:
        copies: the one that is believed first where two courses are equally long, first.
    """
    return sorted((_salvaged(group) for group in _groups(copies)), key=lambda batch: batch.latest)


def whole_in(copy: Copy, batch: int) -> bool:
    """Whether a batch is in a copy just as it was written, up to its last event."""
    part = Part(copy, batch)
    heading = part.genuine_heading()
    if heading is None or not heading.last:
        return False
    before, number = beginning(heading.name, heading.started), 0
    while number < heading.events:
        number += 1
        row = next((row for row in part.rows.get(number, ()) if _follows(before, row)), None)
        if row is None:
            return False
        before = row[4]
    return before == heading.last and max(part.rows, default=0) == number


def _follows(before: str, row: Row) -> bool:
    return link(before, *row[:4]) == row[4]


def _groups(copies: Iterable[Copy]) -> list[list[Part]]:
    """The parts that are of one batch: of the same name and beginning, or with an event in common."""
    groups: list[list[Part]] = []
    of_key: dict[object, list[Part]] = {}
    orphans: list[Part] = []
    for copy in copies:
        for batch in sorted(copy.headings.keys() | copy.rows.keys()):
            part = Part(copy, batch)
            heading = part.genuine_heading()
            keys: list[object] = [row[4] for row in part.rows.get(1, ()) if row[4]]
            if heading is not None:
                keys.append((heading.name, heading.started))
            if not keys:
                orphans.append(part)
                continue
            group = next((of_key[key] for key in keys if key in of_key), None)
            if group is None:
                group = []
                groups.append(group)
            group.append(part)
            for key in keys:
                of_key.setdefault(key, group)
    for part in orphans:
        group = next((group for group in groups if _shares_an_event(part, group)), None)
        if group is None:
            heading = part.heading
            key = None if heading is None else (heading.name, heading.started)
            group = of_key.get(key)
        if group is None:
            group = []
            groups.append(group)
        group.append(part)
    return groups


def _shares_an_event(part: Part, group: Sequence[Part]) -> bool:
    return any(
        row in other.rows.get(number, ()) for other in group for number, rows in part.rows.items() for row in rows
    )


@dataclass
class _Node:
    """An event on a course, and the one before it."""

    row: Row
    sources: list[str]
    before: _Node | None = field(default=None, repr=False)


def _salvaged(group: Sequence[Part]) -> Salvaged:
    heading = next((found for part in group if (found := part.genuine_heading()) is not None), None)
    doubted = next((part.heading for part in group if part.heading is not None), None)
    known: tuple[str, str] | None = None if heading is None else (heading.name, heading.started)
    if known is None:
        known = next((told for part in group for row in part.rows.get(1, ()) if (told := _told_by(row))), None)
    run = _longest_course(group, None if known is None else beginning(*known))
    rows = tuple(node.row for node in run)
    name, started = _named(known, doubted, rows)
    counts = [part.heading.events for part in group if part.heading is not None and part.heading.sealed]
    left = tuple(_leftovers(group, rows))
    numbers = [row[0] for why, row in left if why == GAP]
    return Salvaged(
        name,
        started,
        rows,
        _sources(run),
        left,
        max([len(rows), *counts, *numbers]),
        bool(rows) and known is None,
        max((part.copy.latest.get(part.batch, 0) for part in group), default=0),
    )


def _longest_course(group: Sequence[Part], before: str | None) -> list[_Node]:
    """The longest run of events that follow from each other; of those equally long the one in the first copy."""
    ends: list[_Node] = []
    number = 1
    while True:
        found: dict[str, _Node] = {}
        for part in group:
            for row in part.rows.get(number, ()):
                _go_on(found, ends, row, part.copy.called, number, before)
        if not found:
            break
        ends = list(found.values())
        number += 1
    course: list[_Node] = []
    node = ends[0] if ends else None
    while node is not None:
        course.append(node)
        node = node.before
    return course[::-1]


def _go_on(
    found: dict[str, _Node], ends: Sequence[_Node], row: Row, called: str, number: int, before: str | None
) -> None:
    known = found.get(row[4])
    if known is not None:
        if known.row == row:
            known.sources.append(called)
        return
    if number == 1:
        # Where the batch's own row is lost, its first event is believed if the second follows from it.
        if before is None or _follows(before, row):
            found[row[4]] = _Node(row, [called])
        return
    for end in ends:
        if _follows(end.row[4], row):
            found[row[4]] = _Node(row, [called], end)
            return


def _sources(run: Sequence[_Node]) -> tuple[str, ...]:
    """The fewest copies that the run can be taken from, going on with one as long as that has it."""
    used: list[str] = []
    now: str | None = None
    for place, node in enumerate(run):
        if now not in node.sources:
            lasts = {source: _lasts(source, run, place) for source in node.sources}
            now = max(node.sources, key=lambda source: (lasts[source], source in used))
            if now not in used:
                used.append(now)
    return tuple(used)


def _lasts(source: str, run: Sequence[_Node], place: int) -> int:
    """Up to where in the run a copy has all from `place` on."""
    return next((at for at in range(place, len(run)) if source not in run[at].sources), len(run))


def _leftovers(group: Sequence[Part], run: Sequence[Row]) -> Iterator[tuple[str, Row]]:
    """What was really written, by the link of the event before it, and isn't in the run."""
    taken = {row[4] for row in run}
    told: set[str] = set()
    for part in group:
        for number in sorted(part.rows):
            for row in part.rows[number]:
                if row[4] in taken or row[4] in told or number < 2:
                    continue
                if any(_follows(earlier[4], row) for earlier in part.rows.get(number - 1, ())):
                    told.add(row[4])
                    yield (OTHER_COURSE if number <= len(run) else GAP), row


def _named(
    known: tuple[str, str] | None, doubted: Heading | None, rows: Sequence[Row]
) -> tuple[str | None, str | None]:
    """Name and beginning: as they are known, else as they can be read."""
    if known is not None:
        return known
    if doubted is not None:
        return doubted.name, doubted.started
    return (_after_layouts(rows[0]), rows[0][1]) if rows else (None, None)


def _told_by(row: Row) -> tuple[str, str] | None:
    """Name and beginning of a batch by its first event, if that then follows from them."""
    names = [_after_layouts(row)]
    with suppress(ValueError):
        own = quick_json(row[3]).get("name")
        names += [own] if isinstance(own, str) else []
    return next(((name, row[1]) for name in names if _follows(beginning(name, row[1]), row)), None)


def _after_layouts(row: Row) -> str:
    try:
        start = Event(row[0], row[1], row[2], quick_json(row[3]))
    except ValueError:
        return _NAMELESS
    if start.kind != START or misfit(start):
        return _NAMELESS
    return name_after([layout_from_json(one) for one in start.data["layouts"]])
