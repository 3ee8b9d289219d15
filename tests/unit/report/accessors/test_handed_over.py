"""Drawings of first fix and the cutting plan are figures."""

from __future__ import annotations


def test_the_drawings_and_the_cutting_plan_are_figures(parts, first_fix):
    (sheet,) = first_fix.sheets()
    assert "Annexe" in first_fix.plots.sheet(sheet).alt_text
    assert parts.plots.cutting_plan().alt_text.startswith("Cutting plan")
