"""Plans that cut with several fences or jigs: fewest changes, fewest settings, whole tails, against other methods."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from itertools import combinations

from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model
from support.rigged_jobs import KERF_MM, even_end, fence, jig, rigidly, shop
from support.small_jobs import ONE_IN_EIGHT, part, plain
from support.small_jobs import job as job_of

from coach.ground.terms import End, Hand
from coach.plan.deciding.cover import Want, fewest_on_lines
from coach.plan.deciding.decide import decide
from coach.plan.helping.why import proves_fewest, turns_proofs, witnesses
from coach.plan.intervals import Interval
from coach.plan.job import Job
from coach.plan.judging.reach_problems import reach_problems
from coach.plan.judging.virtual_saw import faults
from coach.plan.steps import StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan
from coach.shop.tools import Fence, Jig

QUICK = settings(max_examples=200, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
REPLAYED = settings(QUICK, max_examples=150)


@st.composite
def wants(draw: st.DrawFn) -> list[Want]:
    """Wants that can be met on two or three lines, each on one of them at least."""
    lines = draw(st.integers(2, 3))
    found = []
    for _ in range(draw(st.integers(1, 14))):
        on = draw(st.lists(st.booleans(), min_size=lines, max_size=lines).filter(any))
        low = [draw(st.integers(0, 30)) / 4 for _ in range(lines)]
        long = [draw(st.integers(0, 5)) / 4 for _ in range(lines)]
        found.append(
            tuple(
                Interval(start, start, start + length) if there else None
                for there, start, length in zip(on, low, long, strict=True)
            )
        )
    return found


def solved(found: Sequence[Want]) -> int:
    """The fewest points by OR-Tools' CP-SAT: a variable for each quarter of each line."""
    model = cp_model.CpModel()
    places = {
        (line, quarter): model.new_bool_var(f"{line} {quarter}")
        for line in range(len(found[0]))
        for quarter in range(40)
    }
    for want in found:
        model.add_bool_or(
            var
            for (line, quarter), var in places.items()
            if (interval := want[line]) is not None and interval.low <= quarter / 4 <= interval.high
        )
    model.minimize(sum(places.values()))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


@QUICK
@given(wants())
def test_points_on_several_lines_are_as_few_as_a_solver_finds_and_meet_every_want(found: list[Want]) -> None:
    points = fewest_on_lines(found)
    for want in found:
        assert any(
            interval is not None and interval.holds(point) for line, point in points for interval in [want[line]]
        )
    assert len(points) == solved(found)


KINDS_OF_JIGS = ((True, False), (True, False), (False, True), (True, True), (True,), (False,))


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Boards for a shop whose fences reach about half across them, on one or both sides, with jigs of both kinds."""
    jigs = [
        jig(f"jig {number}", draw(st.integers(25, 40)), wide_leads=wide_leads)
        for number, wide_leads in enumerate(draw(st.sampled_from(KINDS_OF_JIGS)))
    ]
    widths = [draw(st.integers(60, 260)) for _ in range(draw(st.integers(1, 2)))]
    fences = [
        fence(
            side,
            jigs[0].leading_width_mm + max(widths) * draw(st.integers(5, 10)) / 10,
            least_mm=draw(st.sampled_from((0, 0, 0, 50))),
        )
        for side in draw(st.lists(st.sampled_from(Hand), min_size=1, max_size=2, unique=True))
    ]
    parts = []
    for number, width in enumerate(widths):
        end = even_end(width, draw(st.integers(2, 2 + width // 50)), draw(st.integers(6, 12)), draw(st.integers(6, 10)))
        ends = {End.A: end, End.B: end} if draw(st.booleans()) else {End.A: end}
        boards = draw(st.integers(1, 3))
        parts.append(
            part(ends, label=f"part {number}", boards=boards, handed=draw(st.booleans()), width_mm=float(width))
        )
    return job_of(parts, shop(fences, jigs), tolerance_mm=draw(st.sampled_from((0.0, 0.3))))


def stands(one: Fence, tool: Jig, mark_mm: float, width_mm: float) -> bool:
    """Whether a fence can stand where the kerf's wood-side edge falls on a mark, found by turning the board's corner
    and the mark as complex numbers about the stop, for a fence at the right (at the left all is mirrored)."""
    lean = 1 if tool.wide_leads else -1
    from_jig = mark_mm if tool.wide_leads else width_mm - mark_mm
    # The board's end runs away from the jig, turned by the slope; the corner is at the jig's bearing width.
    mark = -tool.leading_width_mm - (from_jig * cmath.exp(1j * lean * ONE_IN_EIGHT)).real
    kerf_edge = -KERF_MM if tool.wide_leads else 0.0
    return one.min_mm <= kerf_edge - mark <= one.max_mm


def fewest_rigs(job: Job) -> int | None:
    """How many pairs of a fence and a jig are needed, by trying all sets of them; None if all together don't do."""
    rigs = [(one, tool) for tool in job.shop.jigs for one in job.shop.fences]
    sides = [
        (pattern.ends[end].mark_mm(tail, faces), pattern.part.width_mm)
        for pattern in job.patterns
        for end, tail, faces in pattern.sides()
    ]
    for count in range(1, len(rigs) + 1):
        for some in combinations(rigs, count):
            if all(any(stands(one, tool, *side) for one, tool in some) for side in sides):
                return count
    return None


@REPLAYED
@given(jobs())
def test_a_plan_with_several_rigs_leaves_every_tail_whole_with_the_fewest_changes(job: Job) -> None:
    found = decide(job)
    needed = fewest_rigs(job)
    problems = reach_problems(job, found, plain)
    assert bool(problems) is (needed is None)
    if needed is None:
        return
    assert len(set(found.rigs) or {0}) == needed
    assert found.rig_changes == needed - 1
    event(f"{needed} rigs")
    steps = list(plan(beginning(job, found)))
    assert faults(job, found, steps, plain) == []
    assert len(rigidly(job, found)) == sum(step.kind is StepKind.CUT for step in steps) == job.cuts
    checks = [step.setting for step in steps if step.kind is StepKind.CHECK]
    assert checks == [index for index in range(len(found.fence_mm)) if found.move_mm(index) is None]
    for proof in turns_proofs(job, found, steps):
        assert proof.spent_ms == proof.least_ms


@QUICK
@given(jobs())
def test_sides_that_no_setting_of_any_rig_serves_together_never_outnumber_the_settings(job: Job) -> None:
    found = decide(job)
    if reach_problems(job, found, plain):
        return
    apart = witnesses(job, found)
    assert len(apart) <= len(found.fence_mm)
    event(f"proven: {proves_fewest(apart, found)}")


def test_a_mark_turned_as_a_complex_number_stands_where_the_fence_has_to_be() -> None:
    # Wide end leading, 1:8, W = 80, k = 0.9, m = 30.5: F = 80 + 30.5 · 8/√65 − 0.9 = 109.364, worked by hand.
    needs = 80 + 30.5 * 8 / math.sqrt(65) - KERF_MM
    tool = jig("wide", 80.0)
    assert stands(fence(Hand.RIGHT, needs + 1e-9), tool, 30.5, 57.0)
    assert not stands(fence(Hand.RIGHT, needs - 1e-3), tool, 30.5, 57.0)
