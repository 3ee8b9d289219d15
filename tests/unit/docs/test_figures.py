"""Percentages and ratios in the prose of the pages: each follows from a block that is run, a file, or a design."""

from __future__ import annotations

import csv
import re
from math import log10

import heatloop as hl
from tests.helpers.paths import ROOT

DOCS = ROOT / "docs" / "explanation"


def prose(page: str) -> str:
    """A page without line ends."""
    return " ".join((DOCS / page).read_text(encoding="utf-8").split())


def rows(page: str, command: str) -> list[list[str]]:
    """What a command printed on a page, line by line below its heading, in cells two spaces apart."""
    text = (DOCS / page).read_text(encoding="utf-8")
    printed = text.split(f"$ {command}\n", 1)[1].split("```", 1)[0].splitlines()
    return [re.split(r"\s{2,}", line.strip()) for line in printed[1:]]


def test_film_of_a_short_sample() -> None:
    job_w = {(row[0], row[2]): float(row[4]) for row in rows("decisions.md", "python docs/pictures/measure.py film")}
    more = {sample: 100.0 * (job_w[sample, "by formula"] / job_w[sample, "turbulent"] - 1.0) for sample in "236"}
    stated = f"By formula the 2 m sample would give {more['2']:.0f} % more than with the turbulent film, "
    assert stated + f"the 3 m sample {more['3']:.0f} %" in prose("decisions.md")
    assert round(more["6"]) == 0


def test_constants_of_unknown_arrangements() -> None:
    table = rows("method.md", "python docs/pictures/measure.py rating")
    plain = [100.0 * (float(row[2]) / float(row[1]) - 1.0) for row in table]
    filmed = [100.0 * (float(row[4]) / float(row[3]) - 1.0) for row in table]
    text = prose("decisions.md")
    assert f"by {min(plain):.0f} to {max(plain):.0f} % without film and by up to {max(filmed):.0f} % with film" in text
    assert f"with film and a link below 2 it gives up to {-min(filmed):.0f} % more" in text
    assert [row[0] for row, more in zip(table, filmed, strict=True) if round(more, 1) < 0.0] == ["0"]


def test_the_shortcut_by_the_mean_temperature() -> None:
    table = rows("method.md", "python docs/pictures/measure.py shortcut")
    much = {(float(row[0]), float(row[1])): float(row[4].rstrip("%")) for row in table}
    ordinary = [much[0.015, 2.0], much[0.015, 5.0]]
    assert "At half that flow it is 10 to 25 %" in prose("method.md")
    assert 10.0 <= min(ordinary) <= max(ordinary) <= 25.0
    assert "the mean-temperature method gives 2 to 40 % too much" in prose("method.md")
    assert round(max(much.values())) == 40
    assert 2.0 < much[0.03, 2.0] < much[0.03, 5.0] < 10.0


def test_marks_of_the_demo_house(alder_lodge: hl.Design) -> None:
    maximum = alder_lodge.tables["loops"]["flow_error_percent"].max()
    assert f"a loop of the demo house gets up to {maximum:.0f} % more flow than its target" in prose("decisions.md")


def test_cost_by_loops_as_measured() -> None:
    """Figures of docs/pictures/times.csv, which `python -m tests.benchmarks.curve` writes."""
    with (ROOT / "docs" / "pictures" / "times.csv").open(encoding="utf-8", newline="") as stream:
        took_ms = {(row["what"], row["loops"]): float(row["process_ms"]) for row in csv.DictReader(stream)}
    text = prose("performance.md")
    assert took_ms["one solve", "100"] < 2.0 * took_ms["one solve", "12"]
    assert (
        "From 12 to 100 loops the time less than doubles; from 100 to 1,000 loops it rises with the power "
        + (power(took_ms["one solve", "1000"] / took_ms["one solve", "100"]))
        in text
    )
    assert (
        "From 100 to 1,000 loops the time of a scenario rises with the power "
        + (power(took_ms["a scenario among many", "1000"] / took_ms["a scenario among many", "100"]))
        in text
    )


def power(ratio: float) -> str:
    """The power of ten to one decimal."""
    return f"{log10(ratio):.1f}"
