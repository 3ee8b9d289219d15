"""The handover pack and its printable sheet: all parts there, cautions where they apply, boxes empty."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.findings.limits import CheckResult
from heatloop.findings.safety import DEFERENCE, SAFETY_NOTICES, notice_titles, notices_for
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.commissioning.tables import handover_checks_table
from heatloop.hydraulics.analysis.water_content import system_water_l
from heatloop.report.columns.registry import TABLES
from heatloop.report.files.export import write_csv
from heatloop.report.files.write_all import site_text, write_sheet
from heatloop.report.pages.sections import safety_notices_html, section_html, sections_html
from heatloop.survey.water_system import Additive, Vessel, WaterSystem
from heatloop.workflows.commission import commission
from tests.helpers.altered import with_survey
from tests.helpers.paths import DATA

TITLES = {caution.title for caution in SAFETY_NOTICES}


@pytest.fixture(scope="module")
def design(lodge_of_unknown_system: hl.Design) -> hl.Design:
    return lodge_of_unknown_system


@pytest.fixture(scope="module")
def pack(design: hl.Design) -> CommissioningResult:
    inhibitor = Additive("inhibitor A", per_cent=1.0, container_l=0.5, mixed_metals=True)
    system = WaterSystem(inhibitor=inhibitor, vessel=Vessel(volume_l=12.0))
    held = with_survey(design, system=system)
    return commission(held, outdoor_c=7.0)


# --- tables ------------------------------------------------------------------------------------------------


def test_all_tables_are_there_and_every_column_is_described(pack: CommissioningResult) -> None:
    required = set(CommissioningResult.descriptions())
    assert set(pack.tables) == required
    for name, frame in pack.tables.items():
        described = {column.name for column in TABLES[name].columns}
        assert set(frame.columns) == described, name


def test_it_is_public(design: hl.Design) -> None:
    assert isinstance(design.commissioning(), hl.Commissioning)


def test_tables_are_copies(pack: CommissioningResult) -> None:
    mine = pack.tables["water_content"]
    mine.loc[0, "water_content_l"] = -1.0
    assert pack.tables["water_content"]["water_content_l"].min() > 0.0


def test_every_section_has_its_table_and_cautions_that_exist(pack: CommissioningResult) -> None:
    assert [section.table for section in pack.sections] != []
    assert {section.table for section in pack.sections} == set(pack.tables)
    for section in pack.sections:
        assert set(section.cautions) <= TITLES, section.title
    for frame in pack.tables.values():
        for cell in frame.get("safety_notices", ()):
            assert set(notice_titles(cell)) <= TITLES, cell


@pytest.mark.parametrize(
    ("table", "required"),
    [
        ("commissioning", {"Hot surfaces", "Scalding", "Electricity", "Gas, oil, refrigerant and flues"}),
        ("surface_temperatures", {"Hot surfaces"}),
        ("pressures", {"Pressure", "Gas, oil, refrigerant and flues"}),
        ("fill_and_vent", {"Pressure", "Scalding", "Electricity", "Freezing and leaks"}),
        ("treatment", {"Chemicals", "Scalding"}),
        ("user_guide", {"Hot surfaces", "Drilling and cutting", "Electricity"}),
        ("annual_checks", {"Pressure", "Chemicals", "Gas, oil, refrigerant and flues", "Electricity"}),
    ],
)
def test_cautions_stand_where_they_apply(table: str, required: set[str], pack: CommissioningResult) -> None:
    (section,) = (section for section in pack.sections if section.table == table)
    assert required <= set(section.cautions)


def test_cautions_defer_to_local_codes_and_licensed_people() -> None:
    assert "Local regulations" in DEFERENCE
    assert "licensed" in DEFERENCE
    words = {caution.title: caution.text for caution in SAFETY_NOTICES}
    for title, required in (
        ("Hot surfaces", "43 °C"),
        ("Scalding", "cool"),
        ("Pressure", "water, not air"),
        ("Chemicals", "drinking water"),
        ("Drilling and cutting", "Locate services"),
        ("Asbestos, lead and timber", "licensed"),
        ("Asbestos, lead and timber", "joists"),
        ("Electricity", "bonding"),
        ("Gas, oil, refrigerant and flues", "licensed"),
    ):
        assert required in words[title]


def test_cautions_by_title() -> None:
    assert [c.title for c in notices_for(["Scalding", "Hot surfaces"])] == ["Hot surfaces", "Scalding"]
    with pytest.raises(KeyError, match="no safety notice has the title 'Frost'"):
        notices_for(["Frost"])
    assert safety_notices_html(["Pressure"]).markup.count("<dt ") == 1
    assert safety_notices_html().markup.count("<dt ") == len(SAFETY_NOTICES)


def test_figures_agree_from_table_to_table(pack: CommissioningResult) -> None:
    pressures = pack.tables["pressures"].set_index("quantity")["value"]
    settings = pack.tables["settings_as_left"].set_index("item")["designed"]
    summary = pack.summary
    assert summary["fill_kpa"] == pressures["cold fill pressure"] == 100.0 * settings["cold fill pressure"]
    assert (
        summary["water_content_l"]
        == pressures["water content"]
        == pack.tables["water_content"]["water_content_l"].iloc[-1]
    )
    assert summary["water_content_l"] == pytest.approx(system_water_l(pack.system.survey, pack.system.state.network))
    assert pack.tables["doses"]["dose_l"].iloc[0] == pytest.approx(summary["water_content_l"] / 100.0)
    assert summary["fill_kpa"] < summary["running_kpa"] < pressures["pressure at the maximum temperature"]
    assert summary["load_share"] == pytest.approx(pack.today.share)


def test_settings_as_left_hold_what_every_mixing_valve_is_set_to(harbour_loft: hl.Design) -> None:
    loops = [
        dataclasses.replace(loop, flow_temp_c=41.5 if i == 0 else None)
        for i, loop in enumerate(harbour_loft.survey.loops)
    ]
    table = with_survey(harbour_loft, loops=tuple(loops)).commissioning().tables["settings_as_left"]
    mixed = table[table["item"] == "temperature of mixing valve"]
    assert dict(zip(mixed["where"], mixed["designed"], strict=True)) == {
        'trunk "cabins"': 45.0,
        'loop "Saloon"': 41.5,
    }
    assert set(mixed["unit"]) == {"degC"}


def test_settings_as_left_hold_every_valve_and_the_curve(pack: CommissioningResult) -> None:
    table = pack.tables["settings_as_left"]
    valves = table[table["item"].str.startswith("setting of")]
    assert list(valves["designed"]) == [valve.nearest.setting for valve in pack.system.valves]
    assert set(valves["unit"]) == {"setting"}
    assert (table["item"].str.startswith("flow temperature at")).sum() == 4
    assert (table["as_left"] == "").all()


def test_rules_of_treatment_may_be_the_users_own(design: hl.Design, tmp_path: Path) -> None:
    rules = tmp_path / "rules.toml"
    rules.write_text('[[rule]]\nstage = "flush"\nwhat = "Our way."\nsource = "our office"\n', encoding="utf-8")
    table = commission(design, treatment_rules=rules).tables["treatment"]
    assert table[["what", "source"]].to_numpy().tolist() == [["Our way.", "our office"]]


def test_the_user_is_reported_what_this_house_needs(pack: CommissioningResult) -> None:
    table = pack.tables["user_guide"]
    words = dict(zip(table["topic"], table["text"], strict=True))
    assert "reaches 49 °C, more than the 43 °C" in words["Nursery"]
    assert "Main bedroom also controls Landing and Box room" in words["One thermostatic head, several rooms"]
    assert "in the floor past dining door" in words["Hidden pipes: Kitchen-diner"]
    assert "Skirting in the floor in front of garden doors" in words["Hidden pipes: Kitchen-diner"]
    assert "Screws and nails: do not drill" in words
    assert "Furniture and curtains: do not cover" in words
    assert "licensed" in words["Who may do which work?"]


def test_a_cool_nursery_gets_no_warning() -> None:
    survey = hl.read_survey(DATA / "alder-lodge" / "draft.toml")
    rooms = tuple(dataclasses.replace(room, vulnerable=False) for room in survey.rooms)
    words = commission(hl.size(dataclasses.replace(survey, rooms=rooms))).tables["user_guide"]
    assert "Nursery" not in set(words["topic"])


def test_the_worst_check_comes_first(design: hl.Design) -> None:
    system = WaterSystem(softened_fill=True, vessel=Vessel(volume_l=1.0))
    bad = with_survey(design, system=system)
    table = commission(bad).tables["commissioning_checks"]
    assert list(table["verdict"].iloc[:2]) == ["fail", "fail"]
    assert set(table["check"].iloc[:2]) == {"vessel volume", "fill water suitable for bare aluminium"}
    assert (table["recommendation"].iloc[:2] != "").all()
    printed = site_text(commission(bad), [Path("commissioning.html")]).splitlines()
    assert printed[0] == "commissioning.html"
    assert len(printed) == 1 + (table["verdict"] == "fail").sum()
    assert any(line.startswith("FAILS: vessel volume, vessel: calculated 1, limit 1.8") for line in printed)


def test_the_summary_has_the_pressures_a_row_for_each_valve_and_no_list_where_nothing_fails(
    pack: CommissioningResult,
) -> None:
    assert "fail" not in set(pack.commissioning_checks["verdict"])
    summary = pack.summary_block()
    flow_c = pack.facts["flow_temp_c"]
    assert summary.title == f"Alder Lodge, commissioning: flow {flow_c:.1f} °C, outdoor 7.0 °C"
    assert summary.sentences[0] == pack.verdict.headline
    fill, precharge = f"{pack.pressures.fill_kpa:.0f} kPa", "58 kPa"
    assert summary.sentences[1].startswith(f"Cold fill {fill}, precharge {precharge}, ")
    (valves,) = summary.grids
    assert (valves.caption, valves.headings[0], len(valves.rows)) == ("Valves", "Loop", len(pack.commissioning))
    assert summary.points == ()


def test_the_summary_lists_the_checks_that_fail_and_no_others(pack: CommissioningResult) -> None:
    rows = (
        CheckResult("vessel volume", "vessel", 1.0, 1.8, "l", "fail", "source", "fit a larger vessel"),
        CheckResult("pipe size", "filter", 15.0, 22.0, "mm", "caution", "source", "enlarge the pipe"),
        CheckResult("pressure when hot", "system", 200.0, 250.0, "kPa", "pass", "source", "lower the fill"),
    )
    held = dataclasses.replace(pack, frames={**pack.frames, "commissioning_checks": handover_checks_table(rows)})
    (failed,) = held.summary_block().points
    assert (failed.caption, failed.items) == ("Failed checks", ("vessel volume, vessel. fit a larger vessel",))


def test_csv_takes_the_tables(pack: CommissioningResult, tmp_path: Path) -> None:
    assert len(write_csv(tmp_path, pack.tables)) == len(pack.tables)


# --- parts for a page ------------------------------------------------------------------------------------


def test_parts_for_a_page(pack: CommissioningResult) -> None:
    parts = dict(sections_html(pack))
    assert list(parts) == [s.title for s in pack.sections if not pack.frames[s.table].empty]
    filling = parts["Fill, test, vent and drain"].markup
    for title in ("Pressure", "Scalding"):
        assert f'<a href="#caution-{title.lower()}">{title}</a>' in filling
    assert "left-hand end" in filling
    narrow = section_html(pack, "water_content", ["part", "water_content_l"], explain=False).markup
    assert "Waterway" not in narrow
    assert "whole system" in narrow


def test_sheet_is_written(pack: CommissioningResult, tmp_path: Path) -> None:
    path = write_sheet(pack, tmp_path)
    assert path.name == "commissioning.html"
    assert path.read_text(encoding="utf-8").startswith("<!doctype html>")
