"""Layouts and shop brought together: whose shop is used, in which unit, and everything that is wrong at once."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.plain_files import PART, Keys, keys, layout_text, live_in, shop_text

from coach.ground import places
from coach.ground.errors import CoachError
from coach.ground.terms import Joint
from coach.loading import load, load_shop


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    live_in(tmp_path, monkeypatch)


def written(folder: Path, name: str, part: Keys | None = None, *, root: Keys | None = None) -> Path:
    file = folder / name
    file.write_text(layout_text(part, root=root), encoding="utf-8")
    return file


def own_shop(text: str) -> Path:
    file = places.shop_file()
    file.parent.mkdir(parents=True)
    file.write_text(text, encoding="utf-8")
    return file


def refused(*files: Path, shop: Path | None = None) -> tuple[str, ...]:
    with pytest.raises(CoachError) as caught:
        load(files, shop, None)
    return caught.value.problems


def test_without_a_shop_file_the_sample_shop_is_used() -> None:
    assert load_shop(None, "mm").sample


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_sample_shop_is_in_the_layouts_own_unit(unit: str) -> None:
    assert load_shop(None, "in" if unit == "in" else "mm").unit == unit


def test_ones_own_shop_is_used_if_there_is_one() -> None:
    own_shop(shop_text(jig={"name": '"mine"'}))
    shop = load_shop(None, "mm")
    assert (shop.jig.name, shop.sample) == ("mine", False)


def test_a_given_shop_wins_over_ones_own(tmp_path: Path) -> None:
    own_shop(shop_text(jig={"name": '"mine"'}))
    (tmp_path / "other.toml").write_text(shop_text(jig={"name": '"other"'}), encoding="utf-8")
    assert load_shop(tmp_path / "other.toml", "mm").jig.name == "other"


def test_a_given_shop_that_is_missing_is_an_error_and_no_reason_for_the_sample(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match=r"none\.toml: no such file"):
        load_shop(tmp_path / "none.toml", "mm")


def test_a_shop_of_ones_own_that_cannot_be_read_is_an_error_and_no_reason_for_the_sample(tmp_path: Path) -> None:
    file = own_shop("kerf = ")
    with pytest.raises(CoachError, match="not valid TOML"):
        load_shop(None, "mm")
    file.unlink()
    file.mkdir()
    with pytest.raises(CoachError, match="this is a folder"):
        load_shop(None, "mm")


def test_a_settings_folder_that_cannot_be_looked_into_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    def denied(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "stat", denied)
    with pytest.raises(CoachError, match=r"shop\.toml: can't be read: Permission denied"):
        load_shop(None, "mm")


def test_lengths_are_shown_in_the_first_layouts_unit(tmp_path: Path) -> None:
    metric = written(tmp_path, "metric.toml")
    inches = {"width": '"2.25 in"', "thickness": '"3/8 in"', "length": '"15 in"'}
    imperial = written(tmp_path, "imperial.toml", inches, root={"name": '"Chest"'})
    assert load([metric, imperial], None, None).unit == "mm"
    assert load([imperial, metric], None, None).unit == "in"


def test_the_unit_asked_for_wins(tmp_path: Path) -> None:
    assert load([written(tmp_path, "a.toml")], None, "in").unit == "in"


def test_the_unit_asked_for_is_the_one_in_messages(tmp_path: Path) -> None:
    file = written(tmp_path, "a.toml", {"pin": '"0.5 mm"'})
    with pytest.raises(CoachError, match=r"is 0\.020 in wide at the end"):
        load([file], None, "in")


def test_advice_carries_the_file_that_it_is_about(tmp_path: Path) -> None:
    file = written(tmp_path, "a.toml", {"pin": '"1.2 mm"'})
    assert {name for name, _ in load([file], None, None).advice} == {str(file)}


def test_a_half_blind_end_survives_loading(tmp_path: Path) -> None:
    file = written(tmp_path, "a.toml", {"joint": '"half-blind"', "lap": '"3 mm"'})
    ends = load([file], None, None).job.patterns[0].ends
    assert {joint.joint for joint in ends.values()} == {Joint.HALF_BLIND}


def test_the_mistakes_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    first = written(tmp_path, "a.toml", {"boards": "0"})
    second = written(tmp_path, "b.toml", {"pin": '"0.5 mm"'}, root={"name": '"Chest"'})
    shop = tmp_path / "shop.toml"
    shop.write_text(shop_text(), encoding="utf-8")
    problems = refused(first, second, tmp_path / "none.toml", shop=shop)
    assert [problem.split(":")[0].split(",")[0] for problem in problems] == [
        str(first),
        str(tmp_path / "none.toml"),
        str(second),
    ]


def test_the_mistakes_of_layout_and_shop_are_told_at_once(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(shop_text(saw={"kerf": "1"}), encoding="utf-8")
    problems = refused(written(tmp_path, "a.toml", {"boards": "0"}), shop=tmp_path / "shop.toml")
    assert ["a.toml" in problems[0], "shop.toml" in problems[1]] == [True, True]


def test_a_limit_of_the_sample_shop_is_said_to_be_the_samples(tmp_path: Path) -> None:
    *_, last = refused(written(tmp_path, "a.toml", root={"slope": '"1:6"'}))
    assert last == (
        "so says the sample shop, which isn't yours: measure your own saw, fence and jig and save them as "
        f"{places.shop_file()}, or name a file with --shop"
    )


def test_a_reach_of_the_sample_shop_is_said_to_be_the_samples(tmp_path: Path) -> None:
    wide = {"width": '"450 mm"', "tails": "12", "pin": '"8 mm"'}
    first, *_, last = refused(written(tmp_path, "a.toml", wide))
    assert first.startswith(f"{tmp_path / 'a.toml'}: ")
    assert last.startswith("so says the sample shop")


def test_a_mistake_in_the_file_itself_is_not_blamed_on_the_sample_shop(tmp_path: Path) -> None:
    assert "sample" not in "".join(refused(written(tmp_path, "a.toml", {"boards": "0"})))


def test_two_layouts_of_one_name_are_refused_at_the_second(tmp_path: Path) -> None:
    first, second = written(tmp_path, "a.toml"), written(tmp_path, "b.toml")
    (problem,) = refused(first, second)
    assert problem.startswith(f'{second}, line 2: name: "Drawers" is also the name of {first}; ')


def test_a_layout_given_twice_is_refused(tmp_path: Path) -> None:
    file = written(tmp_path, "a.toml")
    assert "expected each layout once" in refused(file, file)[0]


def test_ten_thousand_boards_is_the_most_for_all_layouts_together(tmp_path: Path) -> None:
    files = [
        written(tmp_path, f"{name}.toml", {"boards": "5001", "ends": '"A"'}, root={"name": f'"{name}"'})
        for name in ("a", "b")
    ]
    assert refused(*files) == ("10002 boards in all layouts together; expected at most 10000",)


def test_ends_that_cannot_be_read_hide_no_other_mistake(tmp_path: Path) -> None:
    file = written(tmp_path, "a.toml", {"ends": '"AB"', "joint": '"throughh"', "half_pin": '"5"', "tails": "0"})
    told = "\n".join(refused(file))
    assert all(f"parts[1].{key}: " in told for key in ("ends", "joint", "half_pin", "tails"))


def test_a_part_that_cannot_be_read_hides_no_limit_of_another(tmp_path: Path) -> None:
    other = keys(PART, {"label": '"back"', "half_pin": '"0.4 mm"'})
    text = layout_text({"width": '"57"'}, more=f"\n[[parts]]\n{other}")
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    first, second, *_ = refused(tmp_path / "a.toml")
    assert "parts[1].width: " in first
    assert "parts[2].half_pin: " in second
    assert "the blade would saw the jig" in second
