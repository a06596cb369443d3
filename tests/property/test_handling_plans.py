"""Plans by other costs of handling and from the smallest mark on still go on as they were meant from any step on."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.layout_texts import LayoutText, ShopText, batches
from support.small_jobs import plain

from coach.joint.files import parse_layout
from coach.plan.deciding.decide import decide
from coach.plan.job import make_job
from coach.plan.judging.proof import proven_settings
from coach.plan.steps import StepKind
from coach.plan.walking.situation import Situation, beginning
from coach.plan.walking.walker import after, next_step, plan
from coach.record.batch.stored import settings_from_json, settings_to_json
from coach.shop.files import parse_shop
from coach.shop.tools import Handling

CHECKED = settings(
    max_examples=30,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
LONGEST = 120

prices = st.integers(0, 3) | st.integers(0, 1_000_000)


@st.composite
def situations(draw: st.DrawFn) -> Situation:
    """A batch at its beginning, by any costs and in either order."""
    batch: tuple[ShopText, list[LayoutText]] = draw(batches())
    handling = draw(st.builds(Handling, *[prices] * 7))
    shop = replace(parse_shop("shop.toml", batch[0].text), handling=handling)
    job = make_job([parse_layout(f"layout {n}", layout.text) for n, layout in enumerate(batch[1])], shop)
    return beginning(job, decide(job, smallest_first=draw(st.booleans())))


@given(situations())
@CHECKED
def test_the_plan_after_any_number_of_steps_is_the_rest_of_the_plan_whatever_handling_costs(start: Situation) -> None:
    steps = list(plan(start))
    situation = start
    for done, step in enumerate(steps[:LONGEST]):
        assert list(plan(situation)) == steps[done:] if done % 8 == 0 else next_step(situation) == step
        situation = after(situation, step)


@given(situations())
@CHECKED
def test_the_fence_travels_one_way_and_every_side_is_cut(start: Situation) -> None:
    steps = list(plan(start))
    fences = [
        start.settings.fence_mm[step.setting]
        for step in steps
        if step.kind is StepKind.SET_FENCE and step.setting is not None
    ]
    upwards = start.settings.smallest_first
    assert all((later > earlier) is upwards for earlier, later in pairwise(fences))
    assert len({step.side for step in steps if step.side is not None}) == start.job.cuts


@given(batches())
@CHECKED
def test_the_smallest_mark_first_needs_the_same_settings_in_reverse_and_is_proven_as_well(
    batch: tuple[ShopText, list[LayoutText]],
) -> None:
    job = make_job(
        [parse_layout(f"layout {n}", layout.text) for n, layout in enumerate(batch[1])],
        parse_shop("shop.toml", batch[0].text),
    )
    assert proven_settings(job, plain, smallest_first=True).fence_mm == decide(job).fence_mm[::-1]


@given(situations())
@CHECKED
def test_the_order_of_the_settings_comes_back_from_the_record(start: Situation) -> None:
    assert settings_from_json(settings_to_json(start.settings)) == start.settings
