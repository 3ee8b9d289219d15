"""Surveys with faults: a good one with words changed, case by case."""

import shutil
import tomllib
from pathlib import Path

from tests.helpers.paths import HARBOUR_LOFT, TESTS

GOOD = HARBOUR_LOFT
BAD = TESTS / "bad_surveys"
CASES = tomllib.loads((BAD / "cases.toml").read_text(encoding="utf-8"))["case"]


def changed(folder: Path, changes: list[list[str]], file: str = "survey") -> Path:
    """A copy of the good survey with words of one of its files changed."""
    shutil.copytree(GOOD, folder, dirs_exist_ok=True)
    path = folder / f"{file}.toml"
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, f"the good survey does not hold {old!r}"
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    return folder / "survey.toml"
