"""All files of a design in one folder."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl

import heatloop as hl
from heatloop.handover.first_fix.plan import plan_first_fix
from heatloop.report.files.write_all import all_tables, write_design_files


def test_all_files_of_a_design(design: hl.Design, tmp_path: Path) -> None:
    names = {path.name for path in write_design_files(design, tmp_path)}
    assert names == {"design.xlsx", "design.json", *(f"{name}.csv" for name in design.tables)}
    assert names == {path.name for path in tmp_path.iterdir()}


def test_tables_of_site_stand_in_every_file(design: hl.Design, tmp_path: Path) -> None:
    handover, pack = design.parts(), design.commissioning()
    first_fix = plan_first_fix(design.survey, design.layout)
    names = {path.name for path in write_design_files(design, tmp_path, handover, first_fix, pack)}
    everything = all_tables(design, handover, first_fix, pack)
    assert {f"{name}.csv" for name in everything} | {
        "design.json",
        "design.xlsx",
        "labels.html",
        "commissioning.html",
        "user-guide.html",
    } == names
    index = openpyxl.load_workbook(tmp_path / "design.xlsx", read_only=True)["Index"]
    listed = {row[0] for row in index.iter_rows(values_only=True)}
    assert {f"{name}.csv" for name in everything} <= listed
    held = json.loads((tmp_path / "design.json").read_text(encoding="utf-8"))
    assert {name: len(frame) for name, frame in everything.items()} == {name: len(held[name]) for name in everything}
