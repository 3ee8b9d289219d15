"""`hl.plan` and the watched file: whatever a file holds is drawn or said in words, and each saving draws anew."""

from __future__ import annotations

import os
import random
import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import heatloop as hl
from heatloop.report.files.export import ReportError
from heatloop.workflows.surveying.watch import watch_plan
from tests.helpers.many_rooms import house_of_twenty_rooms
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return shutil.copytree(LODGE, tmp_path / "lodge")


def test_a_survey_object_is_drawn_as_its_file_is() -> None:
    survey = hl.read_survey(LODGE / "survey.toml")
    assert hl.plan(survey).svg() == hl.plan(LODGE / "survey.toml").svg()


def test_a_survey_made_in_python_is_drawn_without_a_file() -> None:
    found = hl.plan(house_of_twenty_rooms())
    assert (found.room_count, found.issues) == (20, ())


def test_a_workbook_is_drawn_and_its_faults_stand_at_cells(folder: Path) -> None:
    survey = hl.read_survey(folder / "survey.toml")
    survey.save(folder / "house.xlsx")
    assert hl.plan(folder / "house.xlsx").svg() == hl.plan(folder / "survey.toml").svg()
    from openpyxl import load_workbook

    book = load_workbook(folder / "house.xlsx")
    sheet = book["Walls"]
    heads = {cell.value: cell.column for cell in sheet[1]}
    sheet.cell(3, heads["length_m"]).value = None
    book.save(folder / "house.xlsx")
    found = hl.plan(folder / "house.xlsx")
    assert found.issues[0].place.startswith("Walls!")
    assert found.remarks[0].room == 0
    assert found.remarks[0].wall == 1


def test_what_is_no_file_is_refused_and_what_is_no_toml_has_its_one_fault(tmp_path: Path) -> None:
    for given in (tmp_path / "none.toml", tmp_path, 7):
        with pytest.raises(hl.InputError):
            hl.plan(given)  # type: ignore[arg-type]
    (tmp_path / "bad.toml").write_text("[project\n", encoding="utf-8")
    found = hl.plan(tmp_path / "bad.toml")
    assert (len(found.issues), found.room_count) == (1, 0)
    assert found.standing == "No room can be drawn; 1 input error."
    assert found.html().count("<li value=") == 1


SCRAPS: tuple[Any, ...] = ("?", -1, 0.0, "", 1e9, "Hall", [], {}, True, None, 179.9, -179.9)


def places(node: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place in nested tables and lists."""
    steps = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for step, child in steps:
        yield (*path, step)
        yield from places(child, (*path, step))


def put(tables: Any, path: tuple[Any, ...], scrap: Any) -> None:
    """Another value at a place, or none where it is None; nothing where the place is gone."""
    node = tables
    for step in path[:-1]:
        node = node[step] if isinstance(node, dict | list) and (isinstance(node, list) or step in node) else None
    if isinstance(node, dict) and path[-1] in node:
        if scrap is None:
            del node[path[-1]]
        else:
            node[path[-1]] = scrap
    elif isinstance(node, list) and isinstance(path[-1], int) and path[-1] < len(node):
        node[path[-1]] = scrap


@pytest.mark.parametrize("seed", range(30))
def test_whatever_a_file_holds_is_drawn_or_said(seed: int, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = random.Random(seed)
    tables = tomllib.loads((folder / "survey.toml").read_text(encoding="utf-8"))
    for path in rng.sample(list(places(tables)), 6):
        put(tables, path, rng.choice(SCRAPS))
    monkeypatch.setattr("heatloop.workflows.surveying.plan.load_tables", lambda path, sheets: (tables, None))
    found = hl.plan(folder / "survey.toml")
    assert found.svg()
    assert found.html()
    assert len(found.remarks) == len(found.issues)


# --- watched ------------------------------------------------------------------------------------------


def save(path: Path, text: str) -> None:
    """As editors do that write another file and rename it."""
    part = path.with_suffix(".part")
    part.write_text(text, encoding="utf-8")
    os.replace(part, path)


def test_each_saving_draws_anew_and_the_last_good_plan_stays_behind_a_slip(folder: Path, tmp_path: Path) -> None:
    survey, out = folder / "survey.toml", tmp_path / "out"
    text = survey.read_text(encoding="utf-8")
    plans = watch_plan(survey, out)
    assert next(plans).issues == ()
    assert sorted(path.name for path in out.iterdir()) == ["plan.html", "plan.js", "plan.svg"]
    assert "plan.js?" in (out / "plan.html").read_text(encoding="utf-8")
    save(survey, text.replace("length_m = 2.81", "length_m = 3.32"))
    assert [issue.place for issue in next(plans).issues] == ['room "Study", walls']
    assert "520 mm open" in (out / "plan.svg").read_text(encoding="utf-8")
    save(survey, "[project")
    slip = next(plans)
    assert (slip.room_count, len(slip.issues), slip.is_earlier) == (9, 1, True)
    assert "520 mm open" in (out / "plan.js").read_text(encoding="utf-8")
    survey.unlink()
    save(survey, text)
    assert next(plans).issues == ()
    plans.close()
    page = (out / "plan.html").read_text(encoding="utf-8")
    assert "plan.js?" not in page
    assert '"ended": true' in (out / "plan.js").read_text(encoding="utf-8")


def test_a_watch_ends_when_it_is_told_to(folder: Path, tmp_path: Path) -> None:
    asked = iter([False, True])
    assert len(list(watch_plan(folder / "survey.toml", tmp_path / "out", lambda: next(asked)))) == 1


def test_another_file_of_that_name_is_never_replaced(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "plan.svg").write_text("<svg/>", encoding="utf-8")
    with pytest.raises(ReportError, match=r"plan\.svg, which heatloop plan did not write"):
        next(watch_plan(folder / "survey.toml", out))
    assert (out / "plan.svg").read_text(encoding="utf-8") == "<svg/>"
    assert [path.name for path in out.iterdir()] == ["plan.svg"]
