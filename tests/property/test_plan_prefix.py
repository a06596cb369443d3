"""A plan goes on as it was meant from any step on, cuts everything once, and keeps its order."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from support.layout_texts import LayoutText, ShopText, batches
from support.small_jobs import two_tails

from coach.ground.terms import Side
from coach.joint.files import parse_layout
from coach.plan.deciding.decide import decide
from coach.plan.job import make_job
from coach.plan.steps import BENCH_KINDS, OVER, RETURN_TOPICS, Step, StepKind
from coach.plan.walking.alike_ends import first_topics
from coach.plan.walking.situation import Situation, beginning
from coach.plan.walking.walker import Walker, after, next_step, plan
from coach.shop.files import parse_shop

CHECKED = settings(
    max_examples=45,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
THOROUGH = settings(CHECKED, max_examples=25)
LONGEST = 160  # steps of a batch that is followed step by step


@dataclass(frozen=True)
class Planned:
    """A batch at its beginning, and all its steps."""

    start: Situation
    steps: list[Step]

    def cuts(self) -> list[tuple[Step, Side]]:
        """The cuts, each with the side that it makes."""
        return [(step, step.side) for step in self.steps if step.side is not None]


def made(batch: tuple[ShopText, list[LayoutText]]) -> Planned:
    shop_text, layouts = batch
    shop = parse_shop("shop.toml", shop_text.text)
    job = make_job([parse_layout(f"layout {n}", layout.text) for n, layout in enumerate(layouts)], shop)
    start = beginning(job, decide(job))
    event(f"fence {shop.fence.side}, wide end leads: {shop.jig.wide_leads}, {len(layouts)} layouts")
    return Planned(start, list(plan(start)))


planned = batches().map(made)
short = planned.filter(lambda found: len(found.steps) <= LONGEST)


def sides_of(start: Situation) -> set[Side]:
    job = start.job
    return {Side(board.number, *key) for board in job.boards for key in job.patterns[board.pattern].sides()}


@given(short)
@THOROUGH
def test_the_plan_after_any_number_of_steps_is_the_rest_of_the_plan(found: Planned) -> None:
    situation = found.start
    for done, step in enumerate(found.steps):
        assert list(plan(situation)) == found.steps[done:]
        situation = after(situation, step)
    assert next_step(situation) is None


@given(short)
@CHECKED
def test_looking_ahead_shows_the_step_after_the_next_and_changes_nothing(found: Planned) -> None:
    walker = Walker(found.start)
    for step, following in pairwise([*found.steps, None]):
        before = walker.situation()
        assert walker.preview() == following
        assert walker.situation() == before
        assert walker.peek() == step
        assert step is not None
        walker.advance(step)
    assert walker.preview() is None


@given(short)
@THOROUGH
def test_a_walk_that_looks_ahead_at_every_step_goes_the_planned_way(found: Planned) -> None:
    walker = Walker(found.start)
    went = []
    while (step := walker.peek()) is not None:
        walker.preview()
        went.append(step)
        walker.advance(step)
        assert Walker(walker.situation()).cuts_left_in_all == walker.cuts_left_in_all
    assert went == found.steps


@given(planned)
@CHECKED
def test_every_side_is_cut_exactly_once(found: Planned) -> None:
    cut = [side for _, side in found.cuts()]
    assert len(cut) == len(set(cut)) == found.start.job.cuts
    assert set(cut) == sides_of(found.start)


@given(planned)
@CHECKED
def test_each_setting_is_made_once_from_the_largest_fence_distance_to_the_smallest(found: Planned) -> None:
    moves = [step.setting for step in found.steps if step.kind is StepKind.SET_FENCE]
    assert moves == list(range(len(found.start.settings.fence_mm)))
    fences = [found.start.settings.fence_mm[setting] for setting in moves if setting is not None]
    assert all(later < earlier for earlier, later in pairwise(fences))


@given(planned)
@CHECKED
def test_every_cut_is_made_where_the_fence_stands(found: Planned) -> None:
    stands: int | None = None
    for step in found.steps:
        if step.kind is StepKind.SET_FENCE:
            stands = step.setting
        if step.kind is StepKind.CUT:
            assert step.setting == stands


@given(planned)
@CHECKED
def test_boards_are_taken_as_they_lie_and_the_stack_turns_over_at_each_setting(found: Planned) -> None:
    in_stack = [board.number for board in found.start.job.boards]
    for setting, cuts in groupby(found.cuts(), key=lambda cut: cut[0].setting):
        taken = [number for number, _ in groupby(side.board for _, side in cuts)]
        assert setting is not None
        stack = in_stack[::-1] if setting % 2 else in_stack
        assert taken == [number for number in stack if number in set(taken)]


@given(planned)
@CHECKED
def test_only_the_first_cut_of_a_board_and_cuts_that_need_none_have_no_turn(found: Planned) -> None:
    seen: dict[int, tuple[object, object]] = {}
    for step, side in found.cuts():
        lies = (side.end, step.edge)
        if side.board not in seen:
            assert step.turn is None
        else:
            assert (step.turn is None) == (seen[side.board] == lies)
        seen[side.board] = lies


@given(planned)
@CHECKED
def test_an_end_is_cleared_only_when_all_its_sides_are_cut(found: Planned) -> None:
    left = sides_of(found.start)
    for step in found.steps:
        if step.side is not None:
            left.discard(step.side)
        if step.kind is StepKind.CLEAR:
            assert not [side for side in left if (side.board, side.end) == (step.board, step.end)]


@given(planned)
@CHECKED
def test_at_the_bench_every_cut_end_of_every_board_but_spares_gets_each_step_once(found: Planned) -> None:
    job = found.start.job
    ends = [(b.number, end) for b in job.boards if not b.spare for end in job.patterns[b.pattern].ends]
    at_bench = [(step.kind, step.board, step.end) for step in found.steps if step.kind in BENCH_KINDS]
    assert at_bench == [(kind, board, end) for kind in BENCH_KINDS for board, end in ends]


@given(planned)
@CHECKED
def test_a_batch_begins_with_preparing_then_fence_and_scrap_cut(found: Planned) -> None:
    topics = first_topics(found.start.job)
    count = len(topics)
    assert [step.topic for step in found.steps[:count]] == list(topics)
    assert [step.kind for step in found.steps[count : count + 2]] == [StepKind.SET_FENCE, StepKind.CHECK]
    later = [step for step in found.steps[count + 2 :] if step.kind in (StepKind.PREPARE, StepKind.CHECK)]
    assert [step.topic for step in later] == [OVER]
    last_cut = max(index for index, step in enumerate(found.steps) if step.kind is StepKind.CUT)
    assert found.steps[last_cut + 1] == later[0], "right after the last cut the saw is switched off"


@given(short, st.data())
@CHECKED
def test_after_a_break_the_same_cuts_follow_in_the_same_order_behind_a_look_at_the_set_up(
    found: Planned, data: st.DataObject
) -> None:
    first = len(first_topics(found.start.job)) + 2
    done = data.draw(st.integers(first, first + found.start.job.cuts - 1))
    walker = Walker(found.start)
    for step in found.steps[:done]:
        walker.advance(step)
    walker.come_back()
    went = list(plan(walker.situation()))
    count = len(RETURN_TOPICS)
    assert [step.topic for step in went[:count]] == list(RETURN_TOPICS)
    assert [step.kind for step in went[count : count + 2]] == [StepKind.SET_FENCE, StepKind.CHECK]
    meant = [step for step in found.steps[done:] if step.side is not None]
    assert [step for step in went if step.side is not None] == meant


@given(short, st.data())
@CHECKED
def test_whatever_is_cut_already_the_rest_is_cut_once_and_settings_go_on_downwards(
    found: Planned, data: st.DataObject
) -> None:
    # As where boards were cut out of turn: a situation need not be one that the plan itself leads to.
    sides = sorted(sides_of(found.start))
    done = frozenset(data.draw(st.sets(st.sampled_from(sides))))
    went = [step for step in plan(replace(found.start, done=done)) if step.side is not None]
    assert sorted(step.side for step in went if step.side is not None) == sorted(set(sides) - done)
    at = [step.setting for step in went if step.setting is not None]
    assert at == sorted(at)


def test_a_scrap_cut_that_is_off_moves_the_fence_and_is_made_again_before_the_rest() -> None:
    job = two_tails()
    walker = Walker(beginning(job, decide(job)))
    while (step := walker.peek()) is not None and step.kind is not StepKind.CHECK:
        walker.advance(step)
    assert step is not None and step.mark_mm is not None
    rest = list(plan(walker.situation()))
    walker.advance(step, step.mark_mm + 0.64)
    again = list(plan(walker.situation()))
    assert [step.kind for step in again[:2]] == [StepKind.SET_FENCE, StepKind.CHECK]
    assert again[1:] == rest
