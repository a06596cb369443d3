"""The commands about layouts: plan and check."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from coach.commands import DONE

if TYPE_CHECKING:
    from coach.loading import Loaded
    from coach.telling.phrases import Saying


def plan_command(options: argparse.Namespace) -> int:
    """`coach plan`: prints settings, turns and totals, or only what was asked about them; or all of it as JSON."""
    from coach.loading import load
    from coach.plan.walking.situation import beginning
    from coach.plan.walking.walker import plan

    loaded = load(options.layouts, options.shop, options.units, smallest_first=options.smallest_first)
    steps = list(plan(beginning(loaded.job, loaded.settings)))
    job, settings, saying = loaded.job, loaded.settings, _saying(loaded)
    if options.json:
        import json

        from coach.telling.plan.as_json import plan_as_json

        found = plan_as_json(job, settings, steps, saying)
        if options.why:
            from coach.telling.plan.why import why_as_json

            found["why"] = why_as_json(job, settings, steps, saying)
        if options.spacers:
            from coach.telling.plan.spacers import spacers_as_json

            found["spacers"] = spacers_as_json(job, settings)
        if options.stop_block:
            from coach.telling.plan.stop_block import stop_as_json

            found["stop_block"] = stop_as_json(job, settings)
        print(json.dumps(found, ensure_ascii=False))  # noqa: T201
        return DONE
    from coach.telling.plan.page import plan_page, printer

    title = " + ".join(layout.name for layout in job.layouts)
    asked: list[list[str]] = []
    if options.why:
        from coach.telling.plan.why import why_lines

        asked.append(why_lines(job, settings, steps, saying))
    if options.spacers:
        from coach.telling.plan.spacers import spacers_lines

        asked.append(spacers_lines(job, settings, saying))
    if options.stop_block:
        from coach.telling.plan.stop_block import stop_lines

        asked.append(stop_lines(job, settings, saying))
    if asked:
        lines = [line for section in asked for line in (*section, "")]
        printer().print("\n".join([title, "", *lines[:-1]]), soft_wrap=True)
        return DONE
    printer().print(plan_page(job, settings, steps, saying, title))
    return DONE


def check_command(options: argparse.Namespace) -> int:
    """`coach check`: validates, saws on the virtual saw, prints what to watch."""
    from rich.text import Text

    from coach.loading import load
    from coach.telling.phrases import counted, sample_shop_note
    from coach.telling.plan.page import advice_lines, printer

    loaded = load(options.layouts, options.shop, options.units)
    out = printer()
    for line in advice_lines(loaded.advice):
        out.print(line, soft_wrap=True)
    if loaded.job.shop.sample:
        out.print(sample_shop_note(), soft_wrap=True)
    for layout in loaded.job.layouts:
        if layout.species is not None:
            note = f"“{layout.name}”: species “{layout.species}” is kept; nothing is worked out from it yet"
            out.print(Text(note), soft_wrap=True)
    out.print(
        f"{counted(len(loaded.job.boards), 'board')}, {counted(loaded.job.cuts, 'cut')} at "
        f"{counted(len(loaded.settings.fence_mm), 'fence setting')}: sawn on the "
        "virtual saw, every tail comes out right.",
        soft_wrap=True,
    )
    return DONE


def _saying(loaded: Loaded) -> Saying:
    from coach.telling.phrases import Saying

    return Saying(loaded.unit, loaded.job.shop.fence.graduation)
