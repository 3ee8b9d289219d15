"""Figures of the page on diagnosis: constants are those of the code, shares follow from the counts beside them."""

from __future__ import annotations

import re

import pytest

from heatloop.diagnosis.diagnosis import SURE, SURE_OF_FAULT, TWICE
from heatloop.diagnosis.inference.hypotheses import FAULTLESS, TWO_FAULTS
from heatloop.diagnosis.simulated_site import DAY_SPREAD_K, Instruments, SiteDeviations
from heatloop.diagnosis.site_model.reading_conditions import BIAS_K, CONTROL_K, LOSS_SPREAD, UNREAD_SOURCE_K
from heatloop.diagnosis.site_model.tolerances import FLOW_SPREAD, HEAD_SPREAD, OUTPUT_SPREAD
from tests.helpers.diagnosis import sites
from tests.helpers.diagnosis.score import proportion
from tests.helpers.paths import ROOT

PAGE = (ROOT / "docs" / "explanation" / "diagnosis.md").read_text(encoding="utf-8")
PROSE = " ".join(PAGE.split())


def percent(share: float) -> str:
    return f"{100.0 * share:.0f}"


def table(heading: str) -> dict[str, list[str]]:
    """Rows of the table whose first cell is this, by their first cells."""
    lines = PAGE[PAGE.index(f"| {heading} |") :].split("\n\n", 1)[0].splitlines()
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {row[0]: row[1:] for row in cells[:1] + cells[2:]}


RESULTS = {name: row for name, row in table("sites").items() if name != "sites"}
CONFUSED = table("true fault")


def counted(cell: str) -> tuple[float, int, int, int]:
    """Share in per cent, its limits, and of how many."""
    found = re.fullmatch(r"([\d.]+) \((\d+) to (\d+)\) of (\d+)", cell)
    assert found, cell
    return float(found[1]), int(found[2]), int(found[3]), int(found[4])


def test_spreads_and_priors_are_those_of_the_code() -> None:
    spreads = (FLOW_SPREAD, OUTPUT_SPREAD, HEAD_SPREAD, LOSS_SPREAD)
    flows, outputs, heads, losses = map(percent, spreads)
    assert f"flows {flows} %, outputs {outputs} %, heads {heads} %, heat loss of each room {losses} %" in PROSE
    assert f"bias of the probe, the same for all surfaces: {BIAS_K:g} K" in PROSE
    assert f"{CONTROL_K:g} K about its setting, {UNREAD_SOURCE_K:g} K if the setting was not read" in PROSE
    assert f"{percent(FAULTLESS)} % of sites are assumed without a fault" in PROSE
    assert f"of the others {percent(TWO_FAULTS)} % have two" in PROSE
    assert (
        f"A fault is named if its probability is at least {percent(SURE_OF_FAULT)} % and twice that of the next"
        in PROSE
    )
    assert TWICE == 2.0
    assert f'"No fault" is named from {percent(SURE)} %' in PROSE


def test_sites_and_instruments_are_those_of_the_simulation() -> None:
    usual, tools = SiteDeviations(), Instruments()
    stated = [percent(value) for value in (usual.kv, usual.output, usual.head)]
    assert f"valves deviate by {stated[0]} % from their tables, outputs {stated[1]} %, heads {stated[2]} %" in PROSE
    losses = f"heat losses {percent(usual.losses)} % in common and {percent(usual.room_loss)} % for each room"
    assert f"the source {usual.source_k:g} K, {losses}" in PROSE
    assert f"on the others they deviate by {DAY_SPREAD_K:g} K" in PROSE
    assert f"surface probe {tools.surface_k:g} K" in PROSE
    assert f"rooms {tools.room_k:g} K, outdoors {tools.outdoor_k:g} K" in PROSE
    assert f"flow meters of {percent(tools.flow_share)} %" in PROSE
    twice, once = vars(sites.TWICE), vars(usual)
    assert twice == {name: pytest.approx(2.0 * value) for name, value in once.items()}


def test_sizes_of_faults_are_those_put_in() -> None:
    def between(kind: str, sizes: dict) -> str:
        low, high = sizes[kind]
        return f"{percent(low)} to {percent(high)} %"

    usual, small = sites.SIZES, sites.SMALL
    assert f"a loop or arm has {between('too little water', usual)} of its flow, or none" in PROSE
    assert (
        f"gives at least {sites.MIN_MUCH:g} times the flow. The output is {between('too little heat', usual)}." in PROSE
    )
    assert f"The head is {between('too little head', usual)}. The water is 6 to 14 K too cool." in PROSE
    assert usual["source too cool"] == (-14.0, -6.0)
    assert f"**small** faults have {between('too little water', small)} of the flow" in PROSE
    assert f"{between('too little heat', small)} of the output, {between('too little head', small)} of" in PROSE
    assert small["source too cool"] == (-6.0, -3.0)
    head, warm = usual["too much head"], usual["source too warm"]
    assert f"have {head[0]:g} to {head[1]:g} times the head, or water {warm[0]:g} to {warm[1]:g} K too warm" in PROSE


@pytest.mark.parametrize("name", RESULTS)
def test_limits_follow_from_shares_and_counts(name: str) -> None:
    for cell in RESULTS[name][:2]:
        share, low, high, of = counted(cell)
        count = round(share * of / 100.0)
        assert f"{100.0 * count / of:.1f}" == f"{share:.1f}"
        limits = proportion(count, of)
        assert [low, high] == [round(100.0 * limit) for limit in limits]
    assert sum(map(float, RESULTS[name][2:])) == pytest.approx(100.0, abs=0.16)


def test_kinds_add_up_to_their_group() -> None:
    for group in ("one fault", "small", "others"):
        kinds = [counted(row[0]) for name, row in RESULTS.items() if name.startswith(f"{group}, ")]
        share, _, _, of = counted(RESULTS[group][0])
        assert sum(one[3] for one in kinds) == of
        right = sum(round(one[0] * one[3] / 100.0) for one in kinds)
        assert f"{100.0 * right / of:.1f}" == f"{share:.1f}"


def test_confusion_has_the_counts_of_the_shares() -> None:
    columns = CONFUSED["true fault"]
    for kind, row in CONFUSED.items():
        if kind == "true fault":
            continue
        share, _, _, of = counted(RESULTS["no fault" if kind == "no fault" else f"one fault, {kind}"][0])
        assert sum(map(int, row)) == of
        assert int(row[columns.index(kind)]) == round(share * of / 100.0)


def test_calibration_counts_the_same_sites_and_those_that_were_right() -> None:
    bands = [row for name, row in table("probability of the first").items() if name[0].isdigit()]
    groups = [counted(RESULTS[name][0]) for name in ("no fault", "one fault", "two faults")]
    assert sum(int(row[0]) for row in bands) == sum(one[3] for one in groups)
    right = sum(round(int(row[0]) * float(row[2]) / 100.0) for row in bands)
    assert right == sum(round(one[0] * one[3] / 100.0) for one in groups)


def test_sentences_below_the_tables_are_their_cells() -> None:
    named, single = RESULTS["no fault"][2], RESULTS["one fault"]
    first, three = counted(single[0])[0], counted(single[1])[0]
    assert f"A site without a fault is identified in {named} % of cases (aim: 95)" in PROSE
    assert f"first in {first:.1f} % (aim: 85) and among the first three in {three:.1f} % (aim: 97)" in PROSE
    heat = counted(RESULTS["one fault, too little heat"][0])[0]
    assert f"**too little heat**: right first in {heat:.1f} % of cases" in PROSE
    weakest = min((counted(row[0])[0], name) for name, row in RESULTS.items() if name.startswith("one fault, "))
    assert weakest[1] == "one fault, too little heat"
    some = re.search(r"in the first explanation in ([\d.]+ % \(\d+ to \d+\) of \d+) sites", PROSE)
    assert some
    share, low, high, of = counted(some[1].replace(" %", ""))
    assert [low, high] == [round(100.0 * limit) for limit in proportion(round(share * of / 100.0), of)]


def test_the_aims_are_those_that_every_run_applies() -> None:
    applied = (ROOT / "tests" / "unit" / "diagnosis" / "test_diagnosis.py").read_text(encoding="utf-8")
    sample = re.search(r'"HEATLOOP_DIAGNOSED", "(\d+)"', applied)
    assert sample
    assert [float(aim) for aim in re.findall(r"minimum\(len\(\w+\), ([\d.]+)\)", applied)] == [0.95, 0.85, 0.97]
    assert f"The tests apply the same aims to {sample[1]} more systems in every run" in PROSE
