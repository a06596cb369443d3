"""The record's events fold into the situation that was lived, and what a batch keeps comes back exactly."""

from __future__ import annotations

import json
import tempfile
from datetime import timedelta
from fractions import Fraction
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.layout_texts import LayoutText, ShopText, batches
from support.small_batches import ALL_STEPS, JOB, SETTINGS, Clock, go
from support.small_jobs import shop

from coach.ground.terms import Hand
from coach.joint.files import parse_layout
from coach.plan.steps import StepKind
from coach.plan.walking.walker import plan
from coach.record.batch.events import fold
from coach.record.batch.session import Session, start
from coach.record.batch.stored import (
    layout_from_json,
    layout_to_json,
    settings_from_json,
    settings_to_json,
    shop_from_json,
    shop_to_json,
)
from coach.record.disk.store import Store
from coach.shop.files import parse_shop

ACTIONS = st.lists(
    st.tuples(
        st.sampled_from(("do", "do", "do", "do", "undo", "break", "short break")),
        st.integers(1, 8),
        st.none() | st.sampled_from((-1.5, -0.03, 0.05, 0.64)),
    ),
    max_size=14,
)


@given(ACTIONS)
@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
def test_the_events_fold_into_the_situation_that_was_lived(actions: list[tuple[str, int, float | None]]) -> None:
    clock = Clock()
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder), clock=clock) as store:
        session = start(store, "lived", JOB, SETTINGS, "mm")
        for what, times, off in actions:
            if what == "do":
                for _ in range(times):
                    step = session.next()
                    if step is None:
                        break
                    measured = off if off is None or step.mark_mm is None else step.mark_mm + off
                    session.complete(step, measured_mm=measured if step.kind is StepKind.CHECK else None)
            elif what == "undo":
                for _ in range(times):
                    session.undo()
            else:
                clock.time += timedelta(minutes=times if what == "short break" else 11 * times)
                session.come_back(clock.time)
            lived = session.walker.situation()
            assert fold(list(store.events(session.id))).situation() == lived
            assert store.batch(session.id).cuts_done == len(lived.done)
            assert store.batch(session.id).cuts == JOB.cuts
        assert Session(store, store.batch(session.id)).walker.situation() == session.walker.situation()
        left = [step.side for step in plan(session.walker.situation()) if step.side is not None]
        assert len(left) == len(set(left)) == JOB.cuts - len(session.walker.done)


@given(st.integers(0, 40), st.integers(1, 45))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_as_many_undos_as_steps_lead_back_to_where_it_was(before: int, steps: int) -> None:
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder), clock=Clock()) as store:
        session = start(store, "there and back", JOB, SETTINGS, "mm")
        go(session, min(before, ALL_STEPS))
        there = session.walker.situation()
        done = min(steps, ALL_STEPS - min(before, ALL_STEPS))
        go(session, done)
        for _ in range(done):
            session.undo()
        assert session.walker.situation() == there


@given(batches())
@settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_layouts_and_shop_come_back_from_the_record_exactly(batch: tuple[ShopText, list[LayoutText]]) -> None:
    shop_text, layout_texts = batch
    tools = parse_shop("shop.toml", shop_text.text)
    assert shop_from_json(json.loads(json.dumps(shop_to_json(tools)))) == tools
    for number, text in enumerate(layout_texts):
        layout = parse_layout(f"layout {number}", text.text)
        assert layout_from_json(json.loads(json.dumps(layout_to_json(layout)))) == layout


def test_a_graduation_comes_back_from_the_record_as_the_exact_fraction() -> None:
    tools = shop(graduation_mm="127/160", fence_side=Hand.LEFT, zero_mm=-2.3)
    graduation = shop_from_json(json.loads(json.dumps(shop_to_json(tools)))).fence.graduation
    assert graduation is not None
    assert graduation.step_mm == Fraction(254, 320)


def test_settings_come_back_from_the_record_exactly() -> None:
    assert settings_from_json(json.loads(json.dumps(settings_to_json(SETTINGS)))) == SETTINGS
