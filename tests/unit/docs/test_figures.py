"""Percentages and ratios in the prose of the pages: each follows from a block that is run, a file, or a design."""

from __future__ import annotations

import csv
import json
import re
from inspect import signature
from math import log10

import heatloop as hl
from heatloop.physics.comfort import draught_rate_percent
from heatloop.physics.emitters import HEATING_EFFECT_FACTOR, TEST_HOUSE_PERCENT
from heatloop.physics.fabric import layers
from heatloop.results.checks.heat_checks import MAX_DRAUGHT_PERCENT
from heatloop.results.tables.glazing import DRAUGHT_AIR_C
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
    assert f"with film and a channel coupling below 2 it gives up to {-min(filmed):.0f} % more" in text
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
        took_ms = {(row["what"], row["count"]): float(row["process_ms"]) for row in csv.DictReader(stream)}
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


def constant(file: str, name: str) -> float:
    """A number that a file of the benchmarks gives a name, in a line of its own or first of several."""
    text = (ROOT / "tests" / "benchmarks" / file).read_text(encoding="utf-8")
    names, numbers = re.search(rf"^((?:\w+, )*{name}(?:, \w+)*) = ([\d., ]+)$", text, re.M).groups()  # type: ignore[union-attr]
    return float(numbers.split(",")[names.split(", ").index(name)])


def test_bounds_of_the_benchmarks_are_those_that_they_assert() -> None:
    text = prose("performance.md")
    assert (
        f"at least {constant('test_coupled.py', 'MIN_TO_PANDAPIPES'):.0f} times as fast as the call of pandapipes"
        in text
    )
    assert constant("test_coupled.py", "MIN_TO_EPANET") == 1.0
    assert "a scenario is faster than a solve of EPANET" in text
    assert f"to the power {constant('test_coupled.py', 'MAX_EXPONENT'):g} at most" in text
    assert f"at most {constant('test_channels.py', 'MAX_RATIO'):.0f} times as long as their closed form" in text
    assert f"{constant('test_coupled.py', 'SCENARIOS'):,.0f} scenarios of the same dwelling" in text


def test_times_over_ours_are_about_those_of_the_drawn_figures() -> None:
    """One run of `python -m tests.benchmarks.curve` on another day: within a fifth of what the page states."""
    with (ROOT / "docs" / "pictures" / "times.csv").open(encoding="utf-8", newline="") as stream:
        took_ms = {(row["what"], row["count"]): float(row["process_ms"]) for row in csv.DictReader(stream)}
    stated = re.search(r"\| pandapipes, bidirectional, Colebrook \| (\d+) to (\d+) \|", prose("performance.md"))
    assert stated
    ratio = took_ms["pandapipes", "12"] / took_ms["one solve", "12"]
    assert int(stated[1]) / 1.2 < ratio < int(stated[2]) * 1.2


def test_ratios_to_the_early_version_are_judged_by_their_goals() -> None:
    text = (DOCS / "performance.md").read_text(encoding="utf-8")
    table = text.split("<!-- figures of one design -->", 1)[1].split("<!-- end of the figures -->", 1)[0]
    measured = re.findall(r"\| ([\d.]+) \| ([\d.]+) \| (yes|no) \|", table)
    source = (ROOT / "tests" / "benchmarks" / "figures.py").read_text(encoding="utf-8")
    goals = source.split("\nGOALS = {", 1)[1].split("\n}", 1)[0].strip().splitlines()
    assert len(measured) == len(goals)
    assert all((float(ratio) <= float(goal)) == (met == "yes") for ratio, goal, met in measured)


def test_heat_of_the_dwelling_is_as_near_solve_bvp_as_the_last_long_run_found() -> None:
    """`python -m tests.long references` keeps the worst of it."""
    rows = json.loads((ROOT / "tests" / "long" / "records" / "references.json").read_text(encoding="utf-8"))
    (worst,) = (one["worst"] for one in rows["figures"]["agreement"] if one["what"].startswith("heat of every loop"))
    stated = re.search(r"within 1e-6 of scipy's `solve_bvp` \(`[\w/.]+`; ([\de-]+) measured\)", prose("performance.md"))
    assert stated
    assert worst <= float(stated[1]) <= 2.0 * worst


def test_rules_of_the_method_are_those_of_the_code() -> None:
    text = prose("method.md")
    assert f"limits differ by more than a factor of {layers.BRIDGING_RATIO_LIMIT:g}" in text
    down, up, across = (layers.RSI_M2K_W[direction] for direction in ("down", "up", "horizontal"))
    assert f"Surface resistances are {across:.2f} inside and {layers.RSE_M2K_W:.2f} outside for walls" in text
    assert f"{up:.2f} for upward and {down:.2f} for downward heat flow" in text
    few, many = layers.SLIGHTLY_VENTILATED_MM2
    assert f"{few:.0f} to {many:.0f} mm² per metre" in text
    assert f"is divided by {HEATING_EFFECT_FACTOR:g}" in text
    air = signature(draught_rate_percent).parameters["turbulence_percent"].default
    assert f"turbulence of {air:.0f} %" in text
    assert f"the draught rate is checked against {MAX_DRAUGHT_PERCENT:.0f} %" in text
    assert "({:.0f} to {:.0f} °C)".format(*DRAUGHT_AIR_C) in text
    assert f"otherwise {TEST_HOUSE_PERCENT:g} %, the difference between laboratories" in text


def test_an_allowance_of_a_rating_is_what_it_is_divided_by() -> None:
    page = (ROOT / "docs" / "how-to" / "enter-a-test-report.md").read_text(encoding="utf-8")
    more = 100.0 * (HEATING_EFFECT_FACTOR - 1.0)
    assert f"an allowance of {more:.0f} % for installation near the floor" in page


def test_an_estimate_is_made_as_its_page_says() -> None:
    page = " ".join((ROOT / "docs" / "how-to" / "estimate.md").read_text(encoding="utf-8").split())
    options = hl.PartsOptions()
    assert f"pieces of {options.estimate_piece_m:g} m" in page
    assert f"{options.assumed_waste_percent:g} % waste" in page


def power(ratio: float) -> str:
    """The power of ten to one decimal."""
    return f"{log10(ratio):.1f}"
