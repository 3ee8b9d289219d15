"""Started folders run at once and overwrite nothing; the demo house, as a draft and as a design."""

from __future__ import annotations

import json
from pathlib import Path

import matplotlib.pyplot as plt
import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.survey.starter_files import start_files

display = pytest.importorskip("IPython.display").display


def test_the_design_is_ready_and_all_its_rooms_are_warm(alder_lodge: hl.Design) -> None:
    assert alder_lodge.verdict.headline == "All limits are met."
    assert (alder_lodge.rooms["margin_w"] > 0.0).all()
    assert alder_lodge.summary["pump_head_kpa"] < alder_lodge.survey.source.pump.constant_kpa


def test_the_draft_is_the_same_house_and_not_ready(alder_lodge: hl.Design, alder_draft: hl.Design) -> None:
    assert alder_draft.verdict.headline == (
        "Not ready for installation: Kitchen-diner receives 150 W less than its heat loss plus back loss."
    )
    assert len(alder_draft.verdict.cautions) == 10
    assert alder_draft.survey.rooms == alder_lodge.survey.rooms
    assert alder_draft.survey.spaces == alder_lodge.survey.spaces


def test_a_started_folder_runs_at_once(tmp_path: Path) -> None:
    import heatloop as hl

    written = start_files(tmp_path / "new" / "job")
    assert [path.name for path in written] == ["survey.toml", "catalogue.toml", "design.ipynb"]
    design = hl.size(written[0])
    assert design.summary["checks_failed"] == 0
    assert not design.verdict.cautions
    assert len(design.rooms) == 2
    assert (design.rooms["margin_w"] > 0).all()


def test_the_started_notebook_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    nbformat = pytest.importorskip("nbformat")
    start_files(tmp_path)
    notebook = json.loads((tmp_path / "design.ipynb").read_text(encoding="utf-8"))
    nbformat.validate(notebook)
    monkeypatch.chdir(tmp_path)
    names: dict = {"display": display}
    try:
        for cell in notebook["cells"]:
            if cell["cell_type"] == "code":
                exec(compile("".join(cell["source"]), cell["id"], "exec"), names)
    finally:
        plt.close("all")
    assert names["design"].summary["project"] == "Corner flat"
    assert len(names["first_fix"].positions) > 0


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / "catalogue.toml").write_text("mine")
    with pytest.raises(InputError) as caught:
        start_files(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: found catalogue.toml there already; required: a folder without them: nothing is overwritten"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["catalogue.toml"]
    assert (tmp_path / "catalogue.toml").read_text() == "mine"
    with pytest.raises(InputError, match="cannot be written to"):
        start_files(tmp_path / "catalogue.toml" / "job")
