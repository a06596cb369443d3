"""Layouts fitted to the fence's scale: what is said, what is written, what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.plain_files import Keys, layout_text, live_in, shop_text
from support.plain_layout import read_parts, read_tolerance_mm
from support.proposals import Ran, coach, off_graduations_mm, read, sawn

from coach.ground.errors import CoachError
from coach.ground.places import sample_layouts_folder
from coach.joint.files import read_layout
from coach.propose.fit import fit
from coach.propose.layout_text import length_text, name_with, tolerance_text
from coach.shop.files import read_shop

NO_SPACING: Keys = {"tails": None, "half_pin": None, "pin": None}


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    live_in(tmp_path, monkeypatch)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A fence with a scale of 0.5 mm; marks on graduations lie 0.504 mm apart."""
    return shop_of(tmp_path, {"scale": '"0.5 mm"'})


def shop_of(folder: Path, fence: Keys, jig: Keys | None = None) -> Path:
    file = folder / "my-shop.toml"
    file.write_text(shop_text(fence=fence, jig=jig), encoding="utf-8")
    return file


def layout_of(folder: Path, part: Keys | None = None, *, root: Keys | None = None, more: str = "") -> Path:
    file = folder / "drawers.toml"
    file.write_text(layout_text(part, root=root, more=more), encoding="utf-8")
    return file


def marked(*top: str, bottom: tuple[str, ...] = ()) -> Keys:
    """The keys of a part whose marks are drawn by hand."""
    return {**NO_SPACING, "top_marks": quoted(top), "bottom_marks": quoted(bottom or top)}


def quoted(marks: tuple[str, ...]) -> str:
    return f"[{', '.join(f'{chr(34)}{mark}{chr(34)}' for mark in marks)}]"


def fitted(layout: Path, shop: Path) -> Path:
    """The file that fitting writes."""
    file = layout.with_name("fitted.toml")
    ran = coach("fit", layout, "--shop", shop, "--write", file)
    assert ran.code == 0, ran.err
    return file


def test_without_a_scale_it_says_what_is_missing(tmp_path: Path) -> None:
    ran = coach("fit", layout_of(tmp_path), "--shop", shop_of(tmp_path, {"scale": '"none"'}))
    assert ran.code == 1
    assert "the shop's fence has no scale" in ran.err and 'such as scale = "0.5 mm"' in ran.err


def test_each_mark_says_where_it_was_where_it_is_and_how_far_it_moved(tmp_path: Path, shop: Path) -> None:
    ran = coach("fit", layout_of(tmp_path, marked("5 mm", "30.5 mm")), "--shop", shop)
    assert "  mark 1 from either edge                 5 mm   4.94 mm  − 0.06 mm\n" in ran.out
    assert "  mark 2 from either edge              30.5 mm  30.64 mm  + 0.14 mm\n" in ran.out


def test_tails_and_sockets_are_said_as_both_their_sides_move(tmp_path: Path, shop: Path) -> None:
    ran = coach("fit", layout_of(tmp_path, marked("5 mm", "30.5 mm")), "--shop", shop)
    assert "  tail 1                               21.5 mm  21.43 mm  − 0.07 mm\n" in ran.out
    assert "  socket between tails 1 and 2            4 mm   4.27 mm  + 0.27 mm\n" in ran.out
    assert "  half-pin socket at the bottom edge      5 mm   4.94 mm  − 0.06 mm\n" in ran.out


def test_settings_before_and_after_are_counted(tmp_path: Path, shop: Path) -> None:
    marks = marked("5 mm", "30.5 mm", bottom=("5.1 mm", "30.6 mm"))
    ran = coach("fit", layout_of(tmp_path, marks, root={"tolerance": '"0 mm"'}), "--shop", shop)
    assert "as drawn: 4 fence settings, 0 of them on graduations\n" in ran.out
    assert "fitted: 2 fence settings, all on graduations\n" in ran.out


def test_a_layout_that_cannot_be_cut_on_the_scale_as_drawn_may_be_once_fitted(tmp_path: Path) -> None:
    shop = shop_of(tmp_path, {"scale": '"5 mm"'})
    marks = marked("4.3 mm", "46.4 mm", bottom=("3.7 mm", "46.2 mm"))
    layout = layout_of(tmp_path, {**marks, "width": '"90 mm"', "mates_with": '"104 mm"'})
    assert coach("check", layout, "--shop", shop).code == 1
    ran = coach("fit", layout, "--shop", shop)
    assert "as drawn: rounded to this scale, a tail or a socket would be spoiled\n" in ran.out
    assert ran.code == 0


def test_where_the_nearest_graduation_leaves_too_little_for_the_blade_the_other_one_is_taken(
    tmp_path: Path, shop: Path
) -> None:
    # The socket between the tails is 1 mm wide; the kerf takes 0.907. Both marks lie 0.2 mm above a graduation.
    layout = layout_of(tmp_path, marked("5 mm", "29.335 mm", bottom=("5 mm", "28.665 mm")))
    (part,) = read_parts(read(fitted(layout, shop)))
    top, bottom = part.ends["A"].top_marks_mm[1], part.ends["A"].bottom_marks_mm[1]
    assert top + bottom - 57 > 0.907
    said = coach("fit", layout, "--shop", shop).out
    assert ("moves more than half a graduation" in said) is (max(abs(top - 29.335), abs(bottom - 28.665)) > 0.252)


def test_a_scale_too_coarse_for_the_layout_is_said_with_the_place(tmp_path: Path) -> None:
    shop = shop_of(tmp_path, {"scale": '"25 mm"'})
    ran = coach("fit", layout_of(tmp_path, marked("5 mm", "30.5 mm")), "--shop", shop)
    assert ran.code == 1
    assert 'part "side", end A: ' in ran.err and "expected a finer scale, or more room there" in ran.err


def test_marks_that_one_tolerance_would_join_are_kept_apart_by_a_narrower_one(tmp_path: Path, shop: Path) -> None:
    marks = marked("5.1 mm", "30.5 mm", bottom=("5.3 mm", "30.5 mm"))
    layout = layout_of(tmp_path, marks, root={"tolerance": '"0.3 mm"'})
    file = fitted(layout, shop)
    tolerance = read_tolerance_mm(read(file))
    assert tolerance is not None and 0.24 < tolerance < 0.252
    assert off_graduations_mm(sawn([file], shop), shop) < 0.001
    assert "its tolerance is 0.25 mm" in coach("fit", layout, "--shop", shop).out


def test_a_tolerance_that_joins_nothing_stays_as_it_was(tmp_path: Path, shop: Path) -> None:
    file = fitted(layout_of(tmp_path, root={"tolerance": '"0.1 mm"'}), shop)
    assert read(file)["tolerance"] == "0.1 mm"


def test_a_jig_whose_narrow_end_leads_is_fitted_as_well(tmp_path: Path) -> None:
    shop = shop_of(tmp_path, {"scale": '"1/32 in"', "zero": '"1.3 mm"'}, {"leading_end": '"narrow"'})
    file = fitted(layout_of(tmp_path), shop)
    assert off_graduations_mm(sawn([file], shop), shop) < 0.001


def test_what_differs_at_an_end_stays_there_and_shared_marks_stay_shared(tmp_path: Path, shop: Path) -> None:
    more = '[parts.end_A]\njoint = "half-blind"\nlap = "3 mm"\n'
    found = read(fitted(layout_of(tmp_path, more=more), shop))["parts"][0]
    assert found["end_A"] == {"joint": "half-blind", "lap": "3 mm"}
    assert len(found["top_marks"]) == 2 and "tails" not in found


def test_an_end_with_a_spacing_of_its_own_keeps_one_of_its_own(tmp_path: Path, shop: Path) -> None:
    more = '[parts.end_A]\ntails = 1\nhalf_pin = "8 mm"\n'
    found = read(fitted(layout_of(tmp_path, more=more), shop))["parts"][0]
    assert len(found["end_A"]["top_marks"]) == 1 and len(found["end_B"]["top_marks"]) == 2
    assert "top_marks" not in found and "half_pin" not in found["end_A"]


def test_keys_that_have_nothing_to_do_with_marks_stay_as_written(tmp_path: Path, shop: Path) -> None:
    part: Keys = {"groove": '{ from_bottom = "9 mm", width = "5 mm" }', "handed": "true", "thickness": '"3/8 in"'}
    found = read(fitted(layout_of(tmp_path, part, root={"species": '"cherry"'}), shop))
    assert found["species"] == "cherry" and found["parts"][0]["thickness"] == "3/8 in"
    assert found["parts"][0]["groove"] == {"from_bottom": "9 mm", "width": "5 mm"}


def test_the_fitted_layout_has_a_name_of_its_own(tmp_path: Path, shop: Path) -> None:
    assert read(fitted(layout_of(tmp_path), shop))["name"] == "Drawers, fitted"


def test_a_layout_fitted_twice_stays_as_it_is(tmp_path: Path, shop: Path) -> None:
    first = fitted(layout_of(tmp_path, marked("5 mm", "30.5 mm")), shop)
    second = tmp_path / "again.toml"
    assert coach("fit", first, "--shop", shop, "--write", second).code == 0
    assert second.read_text(encoding="utf-8") == first.read_text(encoding="utf-8")


def test_nothing_is_written_unless_asked_for(tmp_path: Path, shop: Path) -> None:
    layout = layout_of(tmp_path)
    before = sorted(tmp_path.iterdir())
    ran = coach("fit", layout, "--shop", shop)
    assert "nothing was written" in ran.out
    assert sorted(tmp_path.iterdir()) == before


def test_an_existing_file_is_never_overwritten(tmp_path: Path, shop: Path) -> None:
    layout = layout_of(tmp_path)
    before = layout.read_text(encoding="utf-8")
    ran = coach("fit", layout, "--shop", shop, "--write", layout)
    assert ran.code == 1 and "there is such a file already" in ran.err
    assert layout.read_text(encoding="utf-8") == before


def test_an_impossible_layout_is_refused_with_its_line(tmp_path: Path, shop: Path) -> None:
    layout = layout_of(tmp_path, marked("0.5 mm", "30.5 mm"))
    ran: Ran = coach("fit", layout, "--shop", shop)
    assert ran.code == 1
    assert "top_marks: part" in ran.err and "the blade would saw the jig" in ran.err


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (5.0, "mm", "5 mm"),
        (5.00001, "mm", "5.0001 mm"),
        (5.1 + 0.2, "mm", "5.3 mm"),
        (25.4 * 3 / 32, "in", "0.09375 in"),
        (100.0, "mm", "100 mm"),
        (10.0, "in", "0.393701 in"),
    ],
)
def test_a_written_length_is_never_less_than_it_is(mm: float, unit: str, text: str) -> None:
    assert length_text(mm, "mm" if unit == "mm" else "in") == text


@pytest.mark.parametrize(("mm", "text"), [(0.24698, "0.246 mm"), (0.2, "0.2 mm"), (12.0, "12 mm"), (0.004, "0.004 mm")])
def test_a_written_tolerance_is_never_more_than_it_is(mm: float, text: str) -> None:
    assert tolerance_text(mm, "mm") == text


def test_a_long_name_is_cut_short_to_make_room() -> None:
    name = name_with("x" * 60, "fitted")
    assert len(name) == 60 and name.endswith("x…, fitted")


def test_a_layout_that_takes_several_rigs_is_not_fitted_to_the_scale_of_one(tmp_path: Path) -> None:
    samples = sample_layouts_folder()
    written = read_layout(samples / "wide-panel.toml")
    with pytest.raises(CoachError, match="is cut with 2 pairs of fence and jig"):
        fit(written, read_shop(samples / "shop-two-fences.toml"), lambda mm: f"{mm:.2f} mm")
