"""A small portfolio as files, and what the folder of a study holds."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd

import heatloop as hl
from tests.helpers.paths import DATA
from tests.helpers.portfolio import dwelling

TABLES = ("dwellings", "rooms", "loops", "unmet_checks", "faults")
FEW = 12
"""Dwellings of a small study: one of one room, and the others of an outdoor temperature each."""


def small_houses(folder: Path, count: int = FEW) -> Path:
    """A folder with `count` small houses, each a survey in its own folder, and one catalogue for all."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copy(DATA / "mill-annexe" / "catalogue.toml", folder / "catalogue.toml")
    text = (DATA / "mill-annexe" / "survey.toml").read_text(encoding="utf-8")
    for number in range(count):
        house = folder / f"house-{number:02d}"
        house.mkdir()
        held = text.replace('catalogue = "catalogue.toml"', 'catalogue = "../catalogue.toml"')
        held = held.replace("outdoor_c = -4.0", f"outdoor_c = {-4.0 - 0.5 * number}")
        assert held.count("../catalogue.toml") == 1
        assert number == 0 or "outdoor_c = -4.0\n" not in held
        (house / "survey.toml").write_text(held, encoding="utf-8")
    return folder


def lodges(count: int) -> list[hl.Survey]:
    """Larger houses, each different."""
    return [dwelling(number) for number in range(count)]


def portfolio_files(folder: Path, count: int) -> Path:
    """A folder with `count` different larger houses as survey files, and their catalogue."""
    folder.mkdir(parents=True)
    shutil.copy(DATA / "alder-lodge" / "catalogue.toml", folder / "catalogue.toml")
    for number in range(count):
        text = dwelling(number).to_toml()
        assert text.count('catalogue = "catalogue.toml"') == 1
        (folder / f"house-{number:05d}.toml").write_text(text, encoding="utf-8")
    return folder


def assert_same(study: hl.Study, other: hl.Study) -> None:
    """Every table of both is the same, row by row."""
    for name in TABLES:
        pd.testing.assert_frame_equal(getattr(study, name), getattr(other, name), rtol=1e-9, atol=1e-9)


def files_of(folder: Path) -> list[str]:
    """The files of a folder with their paths in it, sorted."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
