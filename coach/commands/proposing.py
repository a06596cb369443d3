"""The commands that propose layouts: fit and family."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from coach.commands import DONE
from coach.ground.clean import arguments, shown_path
from coach.ground.errors import CoachError

if TYPE_CHECKING:
    from coach.ground.lengths import Unit
    from coach.joint.files import Written
    from coach.joint.limits import Show
    from coach.shop.tools import Shop


def fit_command(options: argparse.Namespace) -> int:
    """`coach fit`: proposes marks on the graduations of the fence's scale, and writes them if told where to."""
    from coach.joint.files import read_layout
    from coach.loading import load_shop
    from coach.propose.fit import fit
    from coach.record.exchange import write_new
    from coach.telling.phrases import Saying
    from coach.telling.plan.page import printer
    from coach.telling.proposals import fit_lines

    written = read_layout(options.layout)
    unit: Unit = options.units or written.layout.unit
    shop = load_shop(options.shop, unit)
    saying = Saying(unit, shop.fence.graduation)
    _refuse_impossible(written, shop, saying.length)
    try:
        found = fit(written, shop, saying.length)
    except CoachError as error:
        raise error.at(shown_path(options.layout)) from None
    out = printer()
    for line in fit_lines(found, saying):
        out.print(line, soft_wrap=True)
    if options.write is None:
        print("nothing was written; --write FILE saves the fitted layout")  # noqa: T201
    else:
        write_new(options.write, [found.text])
        print(f"written; try it:  coach check {arguments(options.write)}")  # noqa: T201
    return DONE


def family_command(options: argparse.Namespace) -> int:
    """`coach family`: proposes layouts that share the fewest fence settings, and writes them if told where to."""
    from coach.loading import load_shop
    from coach.propose.family import propose
    from coach.propose.family_file import read_family
    from coach.telling.phrases import Saying
    from coach.telling.plan.page import printer
    from coach.telling.proposals import family_lines

    family = read_family(options.family)
    unit: Unit = options.units or family.unit
    shop = load_shop(options.shop, unit)
    saying = Saying(unit, shop.fence.graduation)
    files = _new_files(options.write, len(family.drawers))
    try:
        found = propose(family, shop, saying.length, seconds=options.seconds, say=_progress)
    except BaseException:
        _leave_no_empty(options.write)
        raise
    out = printer()
    for line in family_lines(family, found, shop, saying):
        out.print(line, soft_wrap=True)
    if files:
        _write_all(options.write, dict(zip(files, found.texts, strict=True)))
        names = arguments(*files)
        print(f"written; to cut them all in one batch:  coach run {names}")  # noqa: T201
    else:
        print("nothing was written; --write DIR saves the layouts")  # noqa: T201
    return DONE


def _refuse_impossible(written: Written, shop: Shop, show: Show) -> None:
    """CoachError if the layout as drawn breaks a limit of wood or blade."""
    from coach.joint.limits import problems

    against = problems(written.layout, shop.jig.slope, shop.saw.kerf_mm, show, wide_leads=shop.jig.wide_leads)
    if against:
        raise CoachError(*(f"{written.where(problem)}: {problem.text}" for problem in against))


def _progress(line: str) -> None:
    print(line, file=sys.stderr, flush=True)  # noqa: T201


def _new_files(folder: Path | None, count: int) -> list[Path]:
    """A file for each drawer; CoachError if any is there already, before anything is searched."""
    if folder is None:
        return []
    files = [folder / f"drawer-{number}.toml" for number in range(1, count + 1)]
    there = [file for file in files if os.path.lexists(file)]
    if there:
        found = shown_path(there[0])
        raise CoachError(f"{found}: there is such a file already; nothing was written. Choose another folder")
    _make(folder)
    return files


def _make(folder: Path) -> None:
    """The folder, which can be written to; CoachError if that can't be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=folder).close()
    except OSError as error:
        said = f"{shown_path(folder)}: can't be made a folder that files can be written to: {error.strerror}"
        raise CoachError(f"{said}; nothing was written") from error


def _leave_no_empty(folder: Path | None) -> None:
    """Takes the folder away again if nothing came to stand in it."""
    if folder is not None:
        with suppress(OSError):
            folder.rmdir()


def _write_all(folder: Path, texts: Mapping[Path, str]) -> None:
    """Writes all of the files or none."""
    from coach.record.exchange import write_new

    _make(folder)
    done: list[Path] = []
    try:
        for file, text in texts.items():
            write_new(file, [text])
            done.append(file)
    except CoachError:
        for file in done:
            file.unlink(missing_ok=True)
        raise
