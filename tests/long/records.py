"""Figures of long runs, kept with date and commit of the run that produced them."""

from __future__ import annotations

import json
import subprocess
from datetime import date
from pathlib import Path
from typing import Any

from tests.helpers.paths import ROOT

RECORDS = Path(__file__).parent / "records"


def write_record(name: str, figures: dict[str, Any]) -> None:
    """Keep what a run found: `records/NAME.json`."""
    record = {"date": date.today().isoformat(), "commit": commit(), "figures": figures}
    RECORDS.mkdir(exist_ok=True)
    (RECORDS / f"{name}.json").write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def read_record(name: str) -> dict[str, Any]:
    """What the last run found, empty where none was made."""
    path = RECORDS / f"{name}.json"
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}


def commit() -> str:
    """The commit that is run, short, with a plus where files differ from it."""
    name = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True)
    changed = subprocess.run(["git", "diff", "--quiet", "HEAD", "--", "heatloop"], cwd=ROOT, check=False)
    return name.stdout.strip() + ("+" if changed.returncode else "")
