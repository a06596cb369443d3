"""Brings layout files and the shop together into a job that can be cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from coach.ground import places
from coach.ground.clean import shown_path
from coach.ground.errors import CoachError
from coach.ground.lengths import Unit, show_length
from coach.joint.advice import Advice, advice, jig_advice
from coach.joint.files import Mistaken, Written, read_layout
from coach.joint.layout import MOST_BOARDS
from coach.joint.limits import Show, problems
from coach.plan.job import Job, make_job
from coach.plan.judging.proof import OutOfReachError, proven_settings
from coach.plan.settings import Settings
from coach.shop.files import read_shop
from coach.shop.tools import Shop

SAMPLE_SHOPS: dict[Unit, str] = {"mm": "shop-mm.toml", "in": "shop-inches.toml"}


@dataclass(frozen=True, slots=True)
class Loaded:
    """Layouts that can be cut, with their settings decided and proven.

    Attributes:
        advice: what is unwise about them, each with the file that it is about.
    """

    job: Job
    settings: Settings
    unit: Unit
    advice: tuple[tuple[str, Advice], ...]


def load_shop(given: Path | None, unit: Unit) -> Shop:
    """The shop file given, else the person's own, else the sample shop (in `unit`)."""
    if given is not None:
        return read_shop(given)
    own = places.shop_file()
    try:
        own.stat()
    except (FileNotFoundError, NotADirectoryError):
        return read_shop(places.sample_layouts_folder() / SAMPLE_SHOPS[unit], sample=True)
    except OSError as error:
        raise CoachError(f"{shown_path(own)}: can't be read: {error.strerror}") from None
    return read_shop(own)


def load(paths: Sequence[Path], shop_path: Path | None, units: Unit | None, *, smallest_first: bool = False) -> Loaded:
    """Reads and proves `paths` together; CoachError with everything that is wrong, each with its file."""
    found: list[tuple[Path, Written]] = []
    mistaken: list[tuple[Path, Written]] = []
    wrong: list[str] = []
    for path in paths:
        try:
            found.append((path, read_layout(path)))
        except Mistaken as error:
            wrong += error.problems
            mistaken.append((path, error.sound))
        except CoachError as error:
            wrong += error.problems
    layouts = [written.layout for _, written in found]
    wrong += _clashes(found)
    read = [*found, *mistaken]
    unit: Unit = units or (read[0][1].layout.unit if read else "mm")
    try:
        shop = load_shop(shop_path, unit)
    except CoachError as error:
        raise CoachError(*wrong, *error.problems) from None

    def show(mm: float) -> str:
        return show_length(mm, unit)

    jig, kerf = shop.jig, shop.saw.kerf_mm
    notes: list[tuple[str, Advice]] = []
    impossible: list[str] = []
    for path, written in read:
        against = problems(written.layout, jig.slope, kerf, show, wide_leads=jig.wide_leads)
        impossible += [f"{written.where(problem)}: {problem.text}" for problem in against]
        given = advice(written.layout, jig.slope, kerf, jig.thickness_mm, show, wide_leads=jig.wide_leads)
        notes += [(shown_path(path), note) for note in given]
    for one in shop.jigs:
        given = jig_advice(
            one.length_mm,
            one.leading_width_mm,
            one.thickness_mm,
            one.stop_thickness_mm,
            one.slope,
            show,
            wide_leads=one.wide_leads,
        )
        notes += [("the shop", replace(note, where=f'jig "{one.name}"')) for note in given]
    whose = [f"so says the sample shop, which isn't yours: {places.where_a_shop_goes()}"] if shop.sample else []
    if impossible:
        raise CoachError(*wrong, *impossible, *whose)
    if wrong:
        raise CoachError(*wrong)
    job = make_job(layouts, shop)
    try:
        settings = proven_settings(job, show, smallest_first=smallest_first)
    except CoachError as error:
        if isinstance(error, OutOfReachError):
            error = CoachError(*error.problems, *_ways_out(job, show, unit))
        said = error.at(shown_path(paths[0])) if len(paths) == 1 else error
        raise CoachError(*said.problems, *whose) from None
    return Loaded(job, settings, unit, tuple(notes))


def _ways_out(job: Job, show: Show, unit: Unit) -> list[str]:
    """What could be done about a saw that doesn't reach, a line each."""
    from coach.propose.ways_out import ways_out  # needed so rarely that starting is quicker without

    found = ways_out(job, show, unit)
    if not found:
        return ["no way out was found with the fence at the other side, another jig, or fewer tails: cut it elsewhere"]
    lines = []
    for number, way in enumerate(found, 1):
        settings, changes = len(way.settings.fence_mm), way.settings.rig_changes
        cost = f"{settings} fence setting{'' if settings == 1 else 's'}"
        if changes:
            cost += f", {changes} change{'' if changes == 1 else 's'} of fence or jig"
        lines.append(f"way out {number} of {len(found)}, tried on the virtual saw: {way.text}: {cost}")
    return lines


def _clashes(found: Sequence[tuple[Path, Written]]) -> list[str]:
    """What keeps layouts, each fine by itself, from being cut together."""
    wrong = []
    first: dict[str, Path] = {}
    for path, written in found:
        name = written.layout.name
        if name in first:
            other = shown_path(first[name])
            said = f'"{name}" is also the name of {other}; expected each layout once, and a name of its own for each'
            wrong.append(f"{written.root.where('name')}: {said}")
        first.setdefault(name, path)
    boards = sum(part.boards + part.spares for _, written in found for part in written.layout.parts)
    if boards > MOST_BOARDS and len(found) > 1:
        wrong.append(f"{boards} boards in all layouts together; expected at most {MOST_BOARDS}")
    return wrong
