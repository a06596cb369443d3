"""Records that earlier schemas left behind: they open, are brought to the present one and fold as they did."""

from __future__ import annotations

import shutil
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path

import pytest

from coach.record.batch.events import tally_of
from coach.record.batch.proving import proven
from coach.record.batch.session import Session
from coach.record.batch.taking_back import last_standing
from coach.record.disk.files import FILE_NAME
from coach.record.disk.schema import MIGRATIONS
from coach.record.disk.store import Store
from coach.record.rows import Tally

FIXTURES = Path(__file__).parents[1] / "fixtures"
VERSIONS = range(1, len(MIGRATIONS) + 1)


def opened(folder: Path, version: int) -> Store:
    shutil.copyfile(FIXTURES / f"schema-{version}.db", folder / FILE_NAME)
    return Store.open(folder)


def session(store: Store, name: str) -> Session:
    row = store.batch_named(name)
    assert row is not None
    return Session(store, row)


def test_every_schema_up_to_the_present_one_has_a_fixture() -> None:
    missing = [version for version in VERSIONS if not (FIXTURES / f"schema-{version}.db").exists()]
    assert not missing, "run tests/fixtures/make.py with the coach that has this schema"


@pytest.mark.parametrize("version", VERSIONS)
def test_a_fixture_has_the_schema_that_its_name_says(version: int) -> None:
    file = FIXTURES / f"schema-{version}.db"
    with closing(sqlite3.connect(f"{file.as_uri()}?immutable=1", uri=True)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (version,)


@pytest.mark.parametrize("version", VERSIONS)
def test_a_fixture_is_brought_to_the_present_schema(tmp_path: Path, version: int) -> None:
    opened(tmp_path, version).close()
    with closing(sqlite3.connect(tmp_path / FILE_NAME)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


@pytest.mark.parametrize("version", VERSIONS)
def test_the_finished_batch_of_a_fixture_is_finished(tmp_path: Path, version: int) -> None:
    with opened(tmp_path, version) as store:
        finished = session(store, "finished")
        # Three boards, a spare among them, of two tails at both ends: 3 · 2 · 2 · 2 cuts.
        assert tally_of(finished.walker) == Tally(24, 24, 0, finished=True)
        assert store.batch(finished.id).finished
        assert finished.next() is None


@pytest.mark.parametrize("version", VERSIONS)
def test_the_batch_under_way_of_a_fixture_stands_where_it_stood(tmp_path: Path, version: int) -> None:
    with opened(tmp_path, version) as store:
        under_way = session(store, "under way")
        # Seven cuts, two of them taken back; 19 left, and 16 steps at the bench for the two boards that aren't spares.
        assert tally_of(under_way.walker) == Tally(24, 5, 35, finished=False)
        kinds = Counter(event.kind for event in under_way.events)
        prepared = 5 if version == 1 else 6  # since then the ends are prepared as well
        assert (kinds["undo"], kinds["return"], kinds["check"], len(under_way.events)) == (2, 1, 3, 19 + prepared)


@pytest.mark.parametrize("version", VERSIONS)
def test_a_check_of_a_fixture_still_corrects_the_readings(tmp_path: Path, version: int) -> None:
    with opened(tmp_path, version) as store:
        # The scrap cut was 0.5 mm off along the end, at 1:8: 0.5 · 8/√65 at the fence.
        assert session(store, "under way").walker.fence.offset_mm == pytest.approx(-0.5 * 8 / 65**0.5)


@pytest.mark.parametrize("version", VERSIONS)
def test_a_batch_of_a_fixture_can_be_carried_on(tmp_path: Path, version: int) -> None:
    with opened(tmp_path, version) as store:
        under_way = session(store, "under way")
        while (step := under_way.next()) is not None:
            under_way.complete(step)
        assert store.batch(under_way.id).finished
        assert last_standing(under_way.events, under_way.undone) == under_way.events[-1]


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", ["finished", "under way"])
def test_the_events_of_a_fixture_have_the_form_that_is_known(tmp_path: Path, version: int, name: str) -> None:
    with opened(tmp_path, version) as store:
        found = session(store, name)
        assert proven(found.events).situation() == found.walker.situation()
