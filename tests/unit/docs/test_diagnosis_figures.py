"""Figures of the page on diagnosis: constants are those of the code, shares follow from the counts beside them."""

from __future__ import annotations

import re

import pytest

from heatloop.diagnosis.diagnosis import NO_MORE_READINGS, SURE, SURE_OF_FAULT, TWICE
from heatloop.diagnosis.inference.hypotheses import FAULTLESS, TWO_FAULTS
from heatloop.diagnosis.site_model.reading_conditions import BIAS_K, CONTROL_K, LOSS_SPREAD, UNREAD_SOURCE_K
from heatloop.diagnosis.site_model.tolerances import FLOW_SPREAD, HEAD_SPREAD, OUTPUT_SPREAD
from tests.helpers.paths import ROOT
from tests.helpers.second_site import plans, systems, visit
from tests.helpers.second_site.built import Scatter
from tests.helpers.second_site.score import MAX_ASKED, proportion

PAGE = (ROOT / "docs" / "explanation" / "diagnosis.md").read_text(encoding="utf-8")
PROSE = " ".join(PAGE.split())


def percent(share: float) -> str:
    return f"{100.0 * share:.0f}"


def table(heading: str, answer: str) -> dict[str, list[str]]:
    """Rows of the table whose first cell is this, by their first cells, in the section of one answer."""
    part = PAGE[PAGE.index(f"### {answer}") :]
    lines = part[part.index(f"| {heading} |") :].split("\n\n", 1)[0].splitlines()
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {row[0]: row[1:] for row in cells[:1] + cells[2:]}


ANSWERS = ("First visit", "After the readings asked for")
RESULTS = {answer: {name: row for name, row in table("sites", answer).items() if name != "sites"} for answer in ANSWERS}
ROWS = [(answer, name) for answer in ANSWERS for name in RESULTS[answer]]


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
    assert f"control of the source: {CONTROL_K:g} K about its setting" in PROSE
    assert f"with a further spread of {UNREAD_SOURCE_K:g} K" in PROSE
    assert f"{percent(FAULTLESS)} % of sites are assumed without a fault" in PROSE
    assert f"Of the others {percent(TWO_FAULTS)} % have two" in PROSE
    assert (
        f"A fault is named if its probability is at least {percent(SURE_OF_FAULT)} % and twice that of the next"
        in PROSE
    )
    assert TWICE == 2.0
    assert f'"No fault" is named from {percent(SURE)} %' in PROSE
    assert f"until the first explanation has a probability of {percent(NO_MORE_READINGS)} %" in PROSE


def test_sites_and_instruments_are_those_of_the_second_model() -> None:
    usual = Scatter()
    stated = [percent(value) for value in (usual.kv, usual.output, usual.friction, usual.head)]
    words = "valves deviate by {} % from their tables, outputs {} %, friction {} %, heads {} %".format(*stated)
    assert words in PROSE
    losses = f"heat losses {percent(usual.losses)} % in common and {percent(usual.room_loss)} % for each room"
    assert f"the source {usual.source_k:g} K, {losses}" in PROSE
    assert f"on the others they deviate by {visit.UNSTEADY_K:g} K" in PROSE
    assert f"surface probe {visit.SURFACE_K:g} K" in PROSE
    assert f"rooms {visit.ROOM_K:g} K, outdoors {visit.OUTDOOR_K:g} K" in PROSE
    assert f"flow meters of {percent(visit.FLOW_SHARE)} %" in PROSE
    shares = [percent(share) for share in (systems.EMITTERS, systems.MIXED, systems.BYPASSED)]
    assert "other emitters in {} % of systems, a mixed circuit in up to {} %, a bypass in {} %".format(*shares) in PROSE
    assert f"at most {MAX_ASKED} readings" in PROSE


def test_sizes_of_faults_are_those_put_in() -> None:
    def between(kind: str, sizes: dict) -> str:
        low, high = sizes[kind]
        return f"{percent(low)} to {percent(high)} %"

    usual, small = plans.SIZES, plans.SMALL
    assert f"a loop or arm has {between('too little water', usual)} of its flow, or none" in PROSE
    assert (
        f"gives at least {plans.MIN_MUCH:g} times the flow. The output is {between('too little heat', usual)}." in PROSE
    )
    assert f"The head is {between('too little head', usual)}. The water is 6 to 14 K too cool." in PROSE
    assert f"Loops whose pipes differ by at least {plans.MIN_APART_K:g} K are interchanged" in PROSE
    assert f"A channel with air has {between('air in a channel', usual)} of its flow" in PROSE
    assert usual["source too cool"] == (-14.0, -6.0)
    assert f"**small** faults have {between('too little water', small)} of the flow" in PROSE
    assert f"{between('too little heat', small)} of the output, {between('too little head', small)} of" in PROSE
    assert small["source too cool"] == (-6.0, -3.0)
    head, warm = usual["too much head"], usual["source too warm"]
    assert f"have {head[0]:g} to {head[1]:g} times the head, or water {warm[0]:g} to {warm[1]:g} K too warm" in PROSE


@pytest.mark.parametrize(("answer", "name"), ROWS)
def test_limits_follow_from_shares_and_counts(answer: str, name: str) -> None:
    row = RESULTS[answer][name]
    for cell in row[:2]:
        share, low, high, of = counted(cell)
        count = round(share * of / 100.0)
        assert f"{100.0 * count / of:.1f}" == f"{share:.1f}"
        limits = proportion(count, of)
        assert [low, high] == [round(100.0 * limit) for limit in limits]
    assert sum(map(float, row[2:5])) == pytest.approx(100.0, abs=0.16)


@pytest.mark.parametrize("answer", ANSWERS)
def test_kinds_add_up_to_their_group(answer: str) -> None:
    kinds = {*plans.SCORED, *plans.OTHERS}
    for group in ("one fault", "small", "others"):
        own = [counted(row[0]) for name, row in RESULTS[answer].items() if name.removeprefix(f"{group}, ") in kinds]
        share, _, _, of = counted(RESULTS[answer][group][0])
        assert sum(one[3] for one in own) == of
        right = sum(round(one[0] * one[3] / 100.0) for one in own)
        assert f"{100.0 * right / of:.1f}" == f"{share:.1f}"


@pytest.mark.parametrize("answer", ANSWERS)
def test_confusion_has_the_counts_of_the_shares(answer: str) -> None:
    confused = table("true fault", answer)
    columns = confused.pop("true fault")
    for kind, row in confused.items():
        share, _, _, of = counted(RESULTS[answer]["no fault" if kind == "no fault" else f"one fault, {kind}"][0])
        assert sum(map(int, row)) == of
        assert int(row[columns.index(kind)]) == round(share * of / 100.0)


@pytest.mark.parametrize("answer", ANSWERS)
def test_calibration_counts_the_same_sites_and_those_that_were_right(answer: str) -> None:
    bands = [row for name, row in table("probability of the first", answer).items() if name[0].isdigit()]
    groups = [counted(RESULTS[answer][name][0]) for name in ("no fault", "one fault", "two faults")]
    assert sum(int(row[0]) for row in bands) == sum(one[3] for one in groups)
    right = sum(round(int(row[0]) * float(row[2]) / 100.0) for row in bands)
    assert right == sum(round(one[0] * one[3] / 100.0) for one in groups)


def test_sentences_below_the_tables_are_their_cells() -> None:
    first, last = (RESULTS[answer] for answer in ANSWERS)
    assert f"called so in {last['no fault'][2]} % of cases (aim: 95)" in PROSE
    assert f"called faulty in {last['no fault'][5]} % (aim: at most 2)" in PROSE
    before, after = (counted(row["one fault"][0])[0] for row in (first, last))
    three = counted(last["one fault"][1])[0]
    assert f"first in {before:.1f} % at the first visit and in {after:.1f} % after" in PROSE
    assert f"(aim: 90), and among the first three in {three:.1f} % (aim: 99)" in PROSE


def test_the_aims_of_the_ordinary_run_are_stated() -> None:
    applied = (ROOT / "tests" / "unit" / "diagnosis" / "test_diagnosis.py").read_text(encoding="utf-8")
    sample = re.search(r'"HEATLOOP_DIAGNOSED", "(\d+)"', applied)
    assert sample
    aims = [percent(float(aim)) for aim in re.findall(r"minimum\(len\(\w+\), ([\d.]+)\)", applied)]
    assert "{} % of sites without a fault, {} % of faults first, {} % among the first three".format(*aims) in PROSE
    assert f"{sample[1]} more systems" in PROSE
