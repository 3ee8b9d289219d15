"""Results as JSON and CSV: digits, names, read back, and files that cannot be written."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import heatloop as hl
from heatloop.report.files.export import read_json, write_csv, write_json
from heatloop.results.compare import differences
from tests.helpers.paths import DATA


def test_json_and_csv_keep_seven_digits_and_names(design: hl.Design, tmp_path: Path) -> None:
    answers = json.loads(write_json(tmp_path / "d.json", design.to_dict()).read_text(encoding="utf-8"))
    assert answers["schema_version"] == 2
    assert [r["room"] for r in answers["rooms"]] == list(design.rooms["room"])
    assert answers["loops"][0]["flow_l_h"] == float(f"{design.loops['flow_l_h'].iloc[0]:.7g}")
    rooms = pd.DataFrame({"room": ["=1+1", 'say "hot"', "a,b"], "heat_loss_w": [1 / 3, np.nan, 2.0]})
    (path,) = write_csv(tmp_path, {"rooms": rooms})
    back = pd.read_csv(path, dtype=str, keep_default_na=False)
    assert list(back["room"]) == list(rooms["room"])
    assert back["heat_loss_w"][0] == "0.3333333"
    assert back["heat_loss_w"][1] == ""


def test_an_earlier_json_stays_where_the_new_one_cannot_be_written(tmp_path: Path) -> None:
    path = tmp_path / "d.json"
    path.write_text("old", encoding="utf-8")
    limit = "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
    limit = f"import sys; sys.dont_write_bytecode = True; {limit}"  # bytecode would be cut off after 1000 bytes too
    code = "from pathlib import Path; from heatloop.report.files.export import write_json\n"
    write = f"write_json(Path({str(path)!r}), {{'rows': ['x' * 5000]}})"
    done = subprocess.run(
        [sys.executable, "-c", limit + code + write], cwd=DATA.parent, capture_output=True, text=True, check=False
    )
    assert "File too large" in done.stderr
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["d.json"]


def test_what_is_read_back_is_what_was_written(design: hl.Design, tmp_path: Path) -> None:
    summary, tables = read_json(write_json(tmp_path / "d.json", design.to_dict()))
    assert summary["project"] == design.summary["project"]
    assert list(tables["rooms"]["heat_to_rooms_w"]) == pytest.approx(list(design.rooms["heat_to_rooms_w"]), rel=1e-6)
    assert differences((design.summary, design.tables), (summary, tables)).empty
