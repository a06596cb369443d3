"""Brings layout files and the shop together into a job that can be cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from coach import places
from coach.errors import CoachError
from coach.joint.advice import Advice, advice
from coach.joint.files import read_layout
from coach.joint.layout import Layout
from coach.joint.limits import problems
from coach.lengths import Unit, show_length
from coach.plan.job import Job, make_job
from coach.plan.proof import proven_settings
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
    if own.exists():
        return read_shop(own)
    return read_shop(places.sample_layouts_folder() / SAMPLE_SHOPS[unit], sample=True)


def load(paths: Sequence[Path], shop_path: Path | None, units: Unit | None) -> Loaded:
    """Reads and proves `paths` together; CoachError with everything that is wrong, each with its file."""
    found: list[Layout | None] = []
    wrong: list[str] = []
    for path in paths:
        try:
            found.append(read_layout(path))
        except CoachError as error:
            wrong += error.problems
            found.append(None)
    layouts = [layout for layout in found if layout is not None]
    unit: Unit = units or (layouts[0].unit if layouts else "mm")
    try:
        shop = load_shop(shop_path, unit)
    except CoachError as error:
        raise CoachError(*wrong, *error.problems) from None

    def show(mm: float) -> str:
        return show_length(mm, unit)

    slope, kerf = shop.jig.slope, shop.saw.kerf_mm
    notes: list[tuple[str, Advice]] = []
    for path, layout in zip(paths, found, strict=True):
        if layout is not None:
            wrong += [f"{path}: {problem}" for problem in problems(layout, slope, kerf, show)]
            notes += [(str(path), note) for note in advice(layout, slope, kerf, shop.jig.thickness_mm, show)]
    names = [layout.name for layout in layouts]
    wrong += [f'two layouts are called "{name}"; expected each once' for name in set(names) if names.count(name) > 1]
    if wrong:
        raise CoachError(*wrong)
    job = make_job(layouts, shop)
    try:
        settings = proven_settings(job, show)
    except CoachError as error:
        raise (error.at(str(paths[0])) if len(paths) == 1 else error) from None
    return Loaded(job, settings, unit, tuple(notes))
