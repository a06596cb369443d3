"""The commands about layouts: plan and check."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from coach.commands import DONE

if TYPE_CHECKING:
    from coach.loading import Loaded
    from coach.sheets.saying import Saying


def plan_command(options: argparse.Namespace) -> int:
    """`coach plan`: prints settings, turns and totals, or all of it as JSON."""
    from coach.loading import load
    from coach.plan.situation import beginning
    from coach.plan.walker import plan

    loaded = load(options.layouts, options.shop, options.units)
    steps = list(plan(beginning(loaded.job, loaded.settings)))
    if options.json:
        import json

        from coach.sheets.plan_json import plan_as_json

        print(json.dumps(plan_as_json(loaded.job, loaded.settings, steps, _saying(loaded)), ensure_ascii=False))  # noqa: T201
        return DONE
    from coach.sheets.plan_page import plan_page, printer

    title = " + ".join(layout.name for layout in loaded.job.layouts)
    printer().print(plan_page(loaded.job, loaded.settings, steps, _saying(loaded), title))
    return DONE


def check_command(options: argparse.Namespace) -> int:
    """`coach check`: validates, saws on the virtual saw, prints what to watch."""
    from coach.loading import load
    from coach.sheets.plan_page import advice_lines, printer, sample_shop_note
    from coach.sheets.saying import counted

    loaded = load(options.layouts, options.shop, options.units)
    out = printer()
    for line in advice_lines(loaded.advice):
        out.print(line, soft_wrap=True)
    if loaded.job.shop.sample:
        out.print(sample_shop_note(), soft_wrap=True)
    out.print(
        f"{counted(len(loaded.job.boards), 'board')}, {counted(loaded.job.cuts, 'cut')} at "
        f"{counted(len(loaded.settings.fence_mm), 'fence setting')}: sawn on the "
        "virtual saw, every tail comes out right.",
        soft_wrap=True,
    )
    return DONE


def _saying(loaded: Loaded) -> Saying:
    from coach.sheets.saying import Saying

    return Saying(loaded.unit, loaded.job.shop.fence.graduation)
