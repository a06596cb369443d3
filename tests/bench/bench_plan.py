"""Times and weighs planning from 1,000 to 100,000 cuts, and sets what is exact in a plan against general solvers.

Run it from the top of the checkout, on demand:  python tests/bench/bench_plan.py [ROUNDS]
Each size is planned in a process of its own, and the sizes take turns. What counts is the processor's time that a
process took, not the clock's, so that other work on the machine weighs little. Only ratios within one run are to be
quoted.
"""

from __future__ import annotations

import json
import os
import platform
import random
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from coach.plan.deciding.cover import Want
    from coach.plan.intervals import Grid
    from coach.plan.job import Job
    from coach.plan.walking.turns import Stage, TurnCosts

SHOP = """
format = 1
[saw]
kerf = "0.9 mm"
column_side = "left"
throat = "345 mm"
backing_out = "stopped"
{fences}
[[jigs]]
name = "one in eight"
slope = "1:8"
leading_width = "80 mm"
leading_end = "wide"
length = "330 mm"
thickness = "9 mm"
"""
FENCE = """
[[fences]]
side = "{side}"
min = "{low} mm"
max = "{high} mm"
front = "200 mm"
scale = "{scale}"
zero = "0 mm"
"""
PART = """
[[parts]]
label = "part {number}"
boards = {boards}
spares = {spares}
handed = {handed}
width = "{width} mm"
thickness = "10 mm"
length = "{length} mm"
ends = "{ends}"
joint = "through"
mates_with = "12 mm"
half_pin = "{half_pin} mm"
pin = "{pin} mm"
{tails}
"""
KINDS = (  # ends, tails, whether they are alike, handed; 80 cuts on eight boards
    ("both", 2, True, False),
    ("both", 3, False, False),
    ("A", 3, True, True),
    ("both", 4, False, True),
    ("B", 5, False, False),
    ("both", 3, True, True),
    ("both", 3, True, False),
    ("A", 2, False, False),
)
BOARDS, SPARES = 10, 2  # of each part of a layout
SIZES = (1, 3, 10, 31, 104)  # layouts of 960 cuts, or so many times the boards of one layout
VARIANTS = {
    "same marks": "one layout with more and more boards, scale 0.5 mm",
    "new marks": "more and more layouts, each with marks of its own, scale 0.5 mm",
    "no scale": "the same without a scale, so that each mark wants a setting of its own",
    "two fences": "the same with a scale, and a fence at either side of the blade since neither reaches all marks",
}
STAGES = ("layouts checked", "settings decided", "proven", "laid out")
FLAT = 1.5
SECONDS = 60.0  # what a solver gets for one optimum

Result = TypeVar("Result")


def shop_text(variant: str) -> str:
    """The shop file of a variant."""
    scale = "none" if variant == "no scale" else "0.5 mm"
    if variant != "two fences":
        return SHOP.format(fences=FENCE.format(side="right", low=0, high=300, scale=scale))
    near = FENCE.format(side="right", low=0, high=140, scale=scale)
    return SHOP.format(fences=near + FENCE.format(side="left", low=110, high=300, scale=scale))


def layout_text(name: str, times: int, dice: random.Random) -> str:
    """A layout of eight parts whose lengths are drawn in half millimetres."""
    text = f'format = 1\nname = "{name}"\n'
    for number, (ends, tails, alike, handed) in enumerate(KINDS, 1):
        half_pin, pin = dice.randrange(8, 16) / 2, dice.randrange(8, 14) / 2
        text += PART.format(
            number=number,
            boards=BOARDS * times,
            spares=SPARES * times,
            handed=str(handed).lower(),
            width=tails * dice.randrange(18, 34) + 2 * half_pin + (tails - 1) * pin,
            length=dice.randrange(300, 500),
            ends=ends,
            half_pin=half_pin,
            pin=pin,
            tails=f"tails = {tails}" if alike else f"proportions = {[1.0] + [1.2] * (tails - 1)}",
        )
    return text


def layout_texts(variant: str, size: int) -> list[str]:
    """The layout files of a variant."""
    dice = random.Random(1)  # noqa: S311 - only so that lengths differ
    if variant == "same marks":
        return [layout_text("layout", size, dice)]
    return [layout_text(f"layout {number}", 1, dice) for number in range(1, size + 1)]


def show(mm: float) -> str:
    """A length as nobody will read it."""
    return f"{mm} mm"


def made(variant: str, size: int) -> Job:
    """The job of a variant, its layouts checked as a run checks them, but not read from files."""
    from coach.joint.advice import advice
    from coach.joint.files import parse_layout
    from coach.joint.limits import problems
    from coach.plan.job import make_job
    from coach.shop.files import parse_shop

    shop = parse_shop("shop.toml", shop_text(variant))
    layouts = [parse_layout(f"{n}.toml", text) for n, text in enumerate(layout_texts(variant, size))]
    for layout in layouts:
        assert not problems(layout, shop.jig.slope, shop.saw.kerf_mm, show)
        advice(layout, shop.jig.slope, shop.saw.kerf_mm, shop.jig.thickness_mm, show)
    return make_job(layouts, shop)


def peak_bytes() -> int:
    """The most memory that this process has held; the kernel's own figure, which a parent's size doesn't enter."""
    return int(Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0]) * 1024


def measure(variant: str, size: int) -> dict[str, Any]:
    """Plans once; seconds of each stage, and after each the most bytes so far beyond those of the idle process."""
    from coach.plan.deciding.decide import decide
    from coach.plan.judging.reach_problems import reach_problems
    from coach.plan.judging.virtual_saw import faults
    from coach.plan.walking.situation import beginning
    from coach.plan.walking.walker import plan

    made("new marks", 0)  # no layout, but all that is loaded to read the first length, so that it counts as idle
    idle, begun = peak_bytes(), time.process_time()
    seconds: list[float] = []
    held: list[int] = []

    def lap() -> None:
        nonlocal begun
        seconds.append(time.process_time() - begun)
        held.append(peak_bytes() - idle)
        begun = time.process_time()

    job = made(variant, size)
    lap()
    settings = decide(job)
    lap()
    wrong = reach_problems(job, settings, show) + faults(job, settings, plan(beginning(job, settings)), show)
    assert not wrong, wrong[:3]
    lap()
    steps = list(plan(beginning(job, settings)))
    lap()
    assert sum(step.side is not None for step in steps) == job.cuts
    return {
        "cuts": job.cuts,
        "boards": len(job.boards),
        "parts": len(job.patterns),
        "settings": len(settings.fence_mm),
        "seconds": seconds,
        "held": held,
    }


def growth(rounds: int) -> None:
    """Prints for each variant what a cut costs at each size: the least time, the median of the memory."""
    found: dict[tuple[str, int], list[dict[str, Any]]] = {(name, size): [] for name in VARIANTS for size in SIZES}
    for _ in range(rounds):
        for (variant, size), runs in found.items():
            command = [sys.executable, __file__, "measure", variant, str(size)]
            runs.append(json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout))
    print(
        f"\nFor each cut: processor's time in µs (least of {rounds}), memory at its peak beyond idle in bytes (median)"
    )
    for variant, meaning in VARIANTS.items():
        print(f"\n{variant}: {meaning}")
        print(f"{'cuts':>8}{'boards':>8}{'parts':>7}{'settings':>10}", end="")
        print("".join(f"{stage:>18}" for stage in (*STAGES, "all", "memory")))
        rows: list[list[float]] = []
        for size in SIZES:
            runs = found[variant, size]
            cuts = runs[0]["cuts"]
            stages = [min(run["seconds"][stage] for run in runs) / cuts * 1e6 for stage in range(len(STAGES))]
            whole = min(sum(run["seconds"]) for run in runs) / cuts * 1e6
            rows.append([*stages, whole, statistics.median(run["held"][-1] for run in runs) / cuts])
            first = f"{cuts:>8}{runs[0]['boards']:>8}{runs[0]['parts']:>7}{runs[0]['settings']:>10}"
            print(first + "".join(f"{value:18.2f}" for value in rows[-1][:-1]) + f"{rows[-1][-1]:18.0f}")
        columns = list(zip(*rows, strict=True))
        print(f"{'largest : smallest':>33}" + "".join(f"{values[-1] / values[0]:18.2f}" for values in columns))
        rises = [steepest_rise(values) for values in columns]
        print(f"{'largest : the least before':>33}" + "".join(f"{rise:18.2f}" for rise in rises))
        kept = "kept" if max(rises[-2:]) <= FLAT else "MISSED"
        print(f"  aim: all and memory rise to no more than {FLAT} times what they are at any smaller size: {kept}")


def steepest_rise(values: Sequence[float]) -> float:
    """How many times as much a later value is than an earlier one, at most."""
    return max(later / earlier for at, later in enumerate(values) for earlier in values[: at + 1])


def timed(what: Callable[[], Result], runs: int = 5) -> tuple[float, Result]:
    """The least of the processor's seconds, and what came out."""
    times = []
    for _ in range(runs):
        begun = time.process_time()
        result = what()
        times.append(time.process_time() - begun)
        if times[-1] > 1:
            break
    return min(times), result


def settings_model(wants: Sequence[Want], grid: Grid | None) -> Any:
    """The fewest points that meet all wants, of those the fewest off the grid, as an exact cover for CP-SAT."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    choices: list[list[Any]] = [[] for _ in wants]
    cost = []
    for line in range(len(wants[0])):
        here = [(number, want[line]) for number, want in enumerate(wants)]
        places = {at for _, one in here if one is not None for at in (one.low, one.ideal, one.high)}
        if grid is not None:
            places |= {at for _, one in here if one is not None for at in grid.within(one.low, one.high)}
        for at in sorted(places):
            taken = model.new_bool_var("")
            cost.append((len(wants) + 1 + (grid is not None and not grid.has(at))) * taken)
            for number, one in here:
                if one is not None and one.holds(at):
                    choices[number].append(taken)
    for some in choices:
        model.add_bool_or(some)
    model.minimize(sum(cost))
    return model


def turns_model(stages: Sequence[Stage], costs: TurnCosts) -> Any:
    """The cheapest way through all stages as a circuit for CP-SAT, from nowhere through every lie and back."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    numbered: list[list[tuple[int, Any]]] = []
    for stage in stages:
        numbered.append(list(enumerate(sorted(stage), 1 + sum(map(len, numbered)))))
    arcs: list[tuple[int, int, Any]] = [(0, number, model.new_bool_var("")) for number, _ in numbered[0]]
    arcs += [(number, 0, model.new_bool_var("")) for number, _ in numbered[-1]]
    spent = []
    for here, onward in zip(numbered, [*numbered[1:], []], strict=True):
        for number, lie in here:
            for other, to in (*here, *onward):
                if other != number:
                    arcs.append((number, other, model.new_bool_var("")))
                    spent.append(costs.of(lie.turn_to(to)) * arcs[-1][2])
    model.add_circuit(arcs)
    model.minimize(sum(spent))
    return model


def solved(model: Any) -> int | None:
    """The proven optimum of a model, None if it takes too long; one worker, so that its time is one processor's."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 2  # which settles a cover by intervals at once, as the default doesn't
    solver.parameters.max_time_in_seconds = SECONDS
    return round(solver.objective_value) if solver.solve(model) == cp_model.OPTIMAL else None


def whole_route(stages: Sequence[Stage], costs: TurnCosts) -> int:
    """What the turns of a board cost as a plan takes them, each step by a route of its own, with nothing remembered."""
    from coach.plan.walking import turns

    for remembered in (turns._route, turns._onward_from, turns._onward_through):
        remembered.cache_clear()
    todo, lie, spent = [stage for stage in stages if stage], None, 0
    while todo:
        to = turns.route(lie, todo, costs)[1][0]
        spent += 0 if lie is None else costs.of(lie.turn_to(to))
        lie = to
        todo = [todo[0] - {to}, *todo[1:]] if len(todo[0]) > 1 else todo[1:]
    return spent


def against(name: str, ours: Callable[[], int], model: Any) -> None:
    """Prints how long both take to the same optimum; what building the solver's model takes isn't counted."""
    took, cost = timed(ours)
    solver_took, optimum = timed(lambda: solved(model))
    line = f"  {name:<50} coach {took * 1000:8.1f} ms   CP-SAT {solver_took * 1000:9.1f} ms"
    if optimum is None:
        print(f"{line}   no optimum proven within {SECONDS:.0f} s", flush=True)
        return
    assert cost == optimum, (name, cost, optimum)
    print(f"{line}   {solver_took / took:7.1f} times", flush=True)


def settings_cases() -> Iterator[tuple[str, list[Want], Grid | None]]:
    """Batches whose fewest settings are asked for."""
    from coach.plan.deciding.rigs import reach_of_rigs
    from coach.plan.reach import fence_interval, scale_grid

    for variant in ("new marks", "no scale", "two fences"):
        for size in SIZES:
            job = made(variant, size)
            keys = [(index, side) for index, pattern in enumerate(job.patterns) for side in pattern.sides()]
            reach = reach_of_rigs(job, keys)
            wants = [
                tuple(
                    fence_interval(job.rigged(rig), job.patterns[key[0]], key[1]) if key in reach[rig] else None
                    for rig in sorted(reach)
                )
                for key in keys
            ]
            found = sorted(set(wants), key=str)
            yield f"{variant}, {job.cuts} cuts, {len(found)} marks", found, scale_grid(job)


def fewest(wants: Sequence[Want], grid: Grid | None) -> int:
    """What the fewest settings cost in the solver's measure: so much for each, and one for each off the grid."""
    from coach.plan.deciding.cover import fewest_on_lines
    from coach.plan.deciding.stabbing import fewest_points

    if len(wants[0]) > 1:
        return len(fewest_on_lines(wants)) * (len(wants) + 1)
    points = fewest_points([want[0] for want in wants if want[0] is not None], grid)
    return len(points) * (len(wants) + 1) + sum(grid is not None and not grid.has(point) for point in points)


def solvers() -> None:
    """Prints how long the exact parts of a plan take beside a general solver for the same optimum."""
    from coach.plan.walking.turns import LIES, turn_costs
    from coach.shop.tools import Handling

    print("\nFewest settings, and on one fence of those the fewest off the scale: processor's time to the same optimum")
    print("(coach also finds the least shift on one fence, for which the solver isn't asked)")
    for name, wants, grid in settings_cases():
        scale = grid if len(wants[0]) == 1 else None
        against(name, partial(fewest, wants, scale), settings_model(wants, scale))
    print("\nTurns of one board through all its settings: processor's time to the same optimum")
    costs, dice = turn_costs(Handling(), 380.0), random.Random(1)  # noqa: S311
    for count in (2, 6, 20, 60, 200):
        stages = [frozenset(dice.sample(LIES, dice.randrange(1, 5))) for _ in range(count)]
        name = f"{count} settings, {sum(map(len, stages))} cuts"
        against(name, partial(whole_route, stages, costs), turns_model(stages, costs))


def main() -> None:
    """Prints the figures and their ratios."""
    if sys.argv[1:2] == ["measure"]:
        print(json.dumps(measure(sys.argv[2], int(sys.argv[3]))))
        return
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    print(f"{platform.platform()}, Python {platform.python_version()}, {os.cpu_count()} cores")
    growth(rounds)
    solvers()


if __name__ == "__main__":
    main()
