"""The search for the fewest fence settings that serve a family of drawers, and then for the evenest tails."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from coach.propose.bounds import Bounds
from coach.propose.family_model import Answer, Marks, solve

Progress = Callable[[str], None]

FIRST_WORK = 20.0
"""How much the solver may do about one number of settings before it is asked about the next."""
_EVERY_S = 5.0


@dataclass(frozen=True, slots=True)
class Found:
    """The best that a search has found.

    Attributes:
        marks: for each drawer the graduations of its marks.
        at_least: no layouts need fewer settings than this; that is proven.
        evenest: whether it is proven that no layouts with as few settings have evener tails.
    """

    marks: Marks
    at_least: int
    evenest: bool

    @property
    def settings(self) -> int:
        """How many settings the layouts need."""
        return len({number for numbers in self.marks for number in numbers})

    @property
    def fewest(self) -> bool:
        """Whether it is proven that no layouts need fewer settings."""
        return self.settings == self.at_least

    @property
    def worth(self) -> tuple[int, int]:
        """To be small: settings, then the sum over the drawers of widest less narrowest tail, in graduations."""
        return self.settings, sum(_unevenness(numbers) for numbers in self.marks)


def by_itself(drawer: Bounds) -> tuple[Bounds, tuple[int, ...] | None]:
    """A drawer with those numbers of tails that graduations allow, and its evenest marks; None if they allow none.

    Raises:
        KeyboardInterrupt: the person stopped it.
    """
    counts = {}
    for tails in drawer.counts:
        answer = solve([replace(drawer, counts=(tails,))], tails, evenest=True)
        if answer.interrupted:
            raise KeyboardInterrupt
        if answer.marks is not None:
            counts[tails] = answer.marks[0]
    return replace(drawer, counts=tuple(counts)), next(iter(counts.values()), None)


def search(
    drawers: Sequence[Bounds],
    first: Marks,
    *,
    seconds: float | None = None,
    most_work: float | None = None,
    say: Progress = lambda _: None,
) -> Found:
    """The fewest settings and the evenest tails for `drawers`.

    The solver is asked whether so many settings are enough, between what is known to be too few and what is known to
    be enough. Where it can't tell with reasonable effort, it is asked about other numbers, so that there is
    something better to show, and the question comes up again with twice the effort. Once the fewest are known, it is
    asked for the evenest tails.

    Args:
        drawers: each with numbers of tails that are possible.
        first: marks to begin with.
        seconds: how long to search; None for as long as it takes. Ctrl+C ends it too.
        most_work: how much to do at one question before the search ends, in the solver's own measure.
    """
    ends = None if seconds is None else time.monotonic() + seconds
    best = Found(first, max(min(bounds.counts) for bounds in drawers), evenest=False)
    say(f"each drawer by itself: {_settings(best.settings)}")
    work: dict[int, float] = {}
    try:
        while not (best.fewest and best.evenest):
            left = None if ends is None else ends - time.monotonic()
            if left is not None and left <= 0:
                break
            final = best.fewest
            settings = best.settings if final else _next(best, work)
            allowed = most_work if final else _lesser(most_work, 2 * work.get(settings, FIRST_WORK / 2))
            what = f"the evenest with {_settings(settings)}" if final else f"whether {_settings(settings)} will do"
            hint = best.marks if final else None
            answer = solve(
                drawers, settings, evenest=final, seconds=left, work=allowed, hint=hint, beat=_Clock(say, what)
            )
            work[settings] = allowed or 0.0
            best = _learnt(best, settings, answer, evenest=final, say=say)
            if answer.interrupted or (not answer.settled and allowed == most_work is not None):
                break
    except KeyboardInterrupt:  # between two questions: what was found stands
        return best
    return best


def _learnt(best: Found, settings: int, answer: Answer, *, evenest: bool, say: Progress) -> Found:
    """The best that is known after an answer about so many settings."""
    if answer.marks is not None:
        found = Found(answer.marks, best.at_least, evenest=evenest and answer.settled)
        best = found if found.evenest else min(best, found, key=lambda one: one.worth)
        say("no tails are evener" if best.evenest else f"enough: {_settings(best.settings)}")
    elif answer.settled:
        best = replace(best, at_least=settings + 1)
        say(f"not enough: {_settings(settings)}")
    return best


def _next(best: Found, work: Mapping[int, float]) -> int:
    """The number of settings to ask about: one that made the least work so far, a quarter of the way from too few.

    Few settings are told from too few quickly, while many take a while to be told that they are enough.
    """
    near = (3 * best.at_least + best.settings) // 4
    return min(range(best.at_least, best.settings), key=lambda number: (work.get(number, 0.0), abs(number - near)))


class _Clock:
    """Says every few seconds what is being searched, and for how long already."""

    def __init__(self, say: Progress, what: str) -> None:
        self._say = say
        self._what = what
        self._begun = self._said = time.monotonic()

    def __call__(self) -> None:
        now = time.monotonic()
        if now - self._said >= _EVERY_S:
            self._said = now
            self._say(f"searching {self._what}: {now - self._begun:.0f} s")


def _settings(number: int) -> str:
    return f"{number} setting{'' if number == 1 else 's'}"


def _lesser(most: float | None, wanted: float) -> float:
    return wanted if most is None else min(most, wanted)


def _unevenness(numbers: Sequence[int]) -> int:
    """The widest less the narrowest tail of one drawer, in graduations; the marks about a tail add up to its width."""
    sums = [one + other for one, other in zip(numbers, reversed(numbers), strict=True)]
    return max(sums) - min(sums)
