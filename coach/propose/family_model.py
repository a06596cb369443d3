"""The question whether so many fence settings serve a family, for an exact constraint solver (OR-Tools CP-SAT).

The only module that imports the solver; import it where it is used.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass

from ortools.sat.python import cp_model

from coach.propose.bounds import Bounds

Marks = tuple[tuple[int, ...], ...]
"""For each drawer the graduations of its marks, ascending."""

_BEAT = 0.05  # seconds between looks at the clock while the solver runs


@dataclass(frozen=True, slots=True)
class Answer:
    """What the solver found out.

    Attributes:
        marks: the best found, None if none was.
        settled: whether it is proven that none is better, or that there is none.
        interrupted: whether the person stopped it.
    """

    marks: Marks | None
    settled: bool
    interrupted: bool


def solve(
    drawers: Sequence[Bounds],
    settings: int,
    *,
    evenest: bool,
    seconds: float | None = None,
    work: float | None = None,
    hint: Marks | None = None,
    beat: Callable[[], None] = lambda: None,
) -> Answer:
    """Marks for all `drawers` that take no more than so many settings, if there are any.

    Args:
        evenest: whether to look for those whose tails differ least: the smallest sum, over all drawers, of the widest
            less the narrowest tail of each.
        seconds: how long to look at most.
        work: how much to do at most, in the solver's own measure, which doesn't depend on the computer.
        hint: marks to start from.
        beat: called while the solver runs, a few times a second.
    """
    model = _Model(drawers, settings)
    if evenest:
        model.cp.minimize(sum(model.spreads))
    if hint is not None:
        model.hint(hint)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1  # so that a family has the same layouts whenever it is asked for
    solver.parameters.random_seed = 1
    solver.parameters.catch_sigint_signal = False
    if seconds is not None:
        solver.parameters.max_time_in_seconds = max(seconds, 0.01)
    if work is not None:
        solver.parameters.max_deterministic_time = work
    status, interrupted = _run(solver, model.cp, beat)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return Answer(
        model.marks(solver) if found else None,
        status in (cp_model.OPTIMAL, cp_model.INFEASIBLE),
        interrupted,
    )


def _run(
    solver: cp_model.CpSolver, model: cp_model.CpModel, beat: Callable[[], None]
) -> tuple[cp_model.CpSolverStatus, bool]:
    """Solves in a thread of its own, so that Ctrl+C reaches this one and stops the search with the best so far."""
    with ThreadPoolExecutor(1) as pool:
        solving = pool.submit(solver.solve, model)
        interrupted = False
        while not solving.done():
            try:
                wait([solving], _BEAT)
                if interrupted:  # a search that had only just begun may not have heard it
                    solver.stop_search()
                else:
                    beat()
            except KeyboardInterrupt:
                interrupted = True
                solver.stop_search()
        return solving.result(), interrupted


class _Model:
    """Settings s1 < s2 < …, and for each drawer and number of tails its marks, each equal to one of the settings."""

    def __init__(self, drawers: Sequence[Bounds], settings: int) -> None:
        self.cp = cp_model.CpModel()
        self.spreads: list[cp_model.LinearExpr] = []
        self._marks: list[list[tuple[cp_model.IntVar, list[cp_model.IntVar]]]] = []
        low = min(bounds.half_pin[0] for bounds in drawers)
        high = max(bounds.reach[1] for bounds in drawers)
        self._settings = [self.cp.new_int_var(low, high + settings, f"s{number}") for number in range(settings)]
        for before, after in zip(self._settings, self._settings[1:], strict=False):
            self.cp.add(after > before)
        for bounds in drawers:
            self._add(bounds)

    def _add(self, bounds: Bounds) -> None:
        cp = self.cp
        widest, narrowest = (cp.new_int_var(*bounds.tail, name) for name in ("narrowest", "widest"))
        self.spreads.append(narrowest - widest)
        if bounds.ratio is not None:
            above, below, room = bounds.ratio
            cp.add(above * narrowest - below * widest <= room)
        ways = []
        for tails in bounds.counts:
            if tails > len(self._settings):
                continue
            chosen = cp.new_bool_var(f"{tails} tails")
            marks = [cp.new_int_var(*(bounds.half_pin if not index else bounds.reach), "m") for index in range(tails)]
            for index, mark in enumerate(marks):
                self._equal_to_one(mark, index, tails, chosen)
                if index:
                    cp.add(mark > marks[index - 1]).only_enforce_if(chosen)
            for index in range((tails + 1) // 2):
                about_tail = marks[index] + marks[-1 - index]
                cp.add(about_tail <= narrowest).only_enforce_if(chosen)
                cp.add(about_tail >= widest).only_enforce_if(chosen)
            for index in range(1, tails // 2 + 1):
                cp.add_linear_constraint(marks[index] + marks[-index], *bounds.pin).only_enforce_if(chosen)
            ways.append((chosen, marks))
        cp.add_exactly_one(chosen for chosen, _ in ways)
        self._marks.append(ways)

    def _equal_to_one(self, mark: cp_model.IntVar, index: int, tails: int, chosen: cp_model.IntVar) -> None:
        """The mark is one of the settings that leave enough of them on both sides for the other marks."""
        served = []
        for setting in self._settings[index : len(self._settings) - tails + index + 1]:
            by = self.cp.new_bool_var("by")
            self.cp.add(mark == setting).only_enforce_if(by)
            served.append(by)
        self.cp.add(sum(served) == chosen)

    def hint(self, marks: Marks) -> None:
        """Starts the search from marks that were found before."""
        for ways, known in zip(self._marks, marks, strict=True):
            for chosen, own in ways:
                self.cp.add_hint(chosen, len(own) == len(known))
                if len(own) == len(known):
                    for mark, number in zip(own, known, strict=True):
                        self.cp.add_hint(mark, number)

    def marks(self, solver: cp_model.CpSolver) -> Marks:
        """The marks of the number of tails that was chosen for each drawer."""
        return tuple(
            next(tuple(map(solver.value, marks)) for chosen, marks in ways if solver.value(chosen))
            for ways in self._marks
        )
