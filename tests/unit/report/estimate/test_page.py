"""The page of an estimate: answer, both tables and the range."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

import heatloop as hl
from heatloop.report.files.export import ReportError
from tests.helpers.paths import DATA

CATALOGUE, PRICES = DATA / "alder-lodge" / "catalogue.toml", DATA / "alder-lodge" / "prices.csv"
ROOMS = pd.DataFrame(
    {"name": ["Den", "Bath"], "indoor_c": [20.0, 22.0], "heat_loss_w": [390.0, 160.0], "estimated_wall_m": [9.2, 4.8]}
)


@pytest.fixture(scope="module")
def survey() -> hl.Survey:
    return hl.survey_from_schedule(ROOMS, CATALOGUE, -3.0, 50.0)


@pytest.fixture(scope="module")
def found(survey: hl.Survey) -> hl.Estimate:
    return hl.estimate(survey, PRICES, [55.0, 40.0, 45.0])


def test_the_page_has_the_answer_both_tables_and_its_range(found: hl.Estimate, tmp_path: Path) -> None:
    path = found.save(tmp_path / "answer.html")
    text = path.read_text(encoding="utf-8")
    assert found.answer in text
    assert text.count("<table") == 2
    assert "Estimate before the survey" in text
    assert "within 15 % either way" in text
    assert found.save(path) == path  # an earlier page of its own is replaced
    (tmp_path / "mine.html").write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match="heatloop estimate did not write"):
        found.save(tmp_path / "mine.html")
    with pytest.raises(hl.InputError, match=r"ends in \.html"):
        found.save(tmp_path / "answer.pdf")
