"""Layout and shop files gone wrong in thousands of ways: what isn't sound is refused in plain lines, by file."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from support.file_fuzz import Figures, Fuzz, toml

from coach.ground.places import sample_layouts_folder

FILES, SEED = 800, 20310304


@pytest.fixture(scope="module")
def figures(tmp_path_factory: pytest.TempPathFactory) -> Figures:
    return Fuzz(tmp_path_factory.mktemp("fuzz"), SEED).run(FILES)


def test_only_plain_lines_for_a_person_come_out_of_files_gone_wrong(figures: Figures) -> None:
    assert figures.wrong == []


def test_the_files_are_neither_all_refused_nor_all_sound(figures: Figures) -> None:
    assert figures.files == FILES
    assert figures.refused > FILES / 4
    assert figures.planned > FILES / 20


def test_no_file_keeps_a_person_waiting(figures: Figures) -> None:
    assert figures.slowest_s < 5


@pytest.mark.parametrize("sample", sorted(sample_layouts_folder().glob("*.toml")), ids=lambda path: path.stem)
def test_a_sample_written_anew_says_the_same(sample: Path) -> None:
    data = tomllib.loads(sample.read_text(encoding="utf-8"))
    assert tomllib.loads(toml(data)) == data
