"""The page of an estimate: answer, both tables and the range."""

from __future__ import annotations

from pathlib import Path

import pytest

import heatloop as hl
from heatloop.report.files.export import ReportError


def test_the_page_has_the_answer_both_tables_and_its_range(estimate: hl.Estimate, tmp_path: Path) -> None:
    path = estimate.save(tmp_path / "answer.html")
    text = path.read_text(encoding="utf-8")
    assert estimate.answer in text
    assert text.count("<table") == 2
    assert "Estimate before the survey" in text
    assert "assumed to be accurate to ± 15 %" in text
    assert estimate.save(path) == path  # an earlier page of its own is replaced
    (tmp_path / "mine.html").write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match="heatloop estimate did not write"):
        estimate.save(tmp_path / "mine.html")
    with pytest.raises(hl.InputError, match=r"ends in \.html"):
        estimate.save(tmp_path / "answer.pdf")
