"""Every column of every table is described, and headings carry the unit of the name."""

from __future__ import annotations

import pytest

import heatloop as hl
from heatloop.handover.first_fix.plan import plan_first_fix
from heatloop.handover.parts.tables import GAP_TEMPS_C
from heatloop.report.columns.registry import SUMMARY, TABLES
from heatloop.report.columns.shown import BALANCES, JOB
from tests.helpers.paths import DATA


def test_every_column_of_a_design_and_what_is_handed_over_is_described(design: hl.Design) -> None:
    given = (design, design.parts(), plan_first_fix(design.survey, design.layout), design.commissioning())
    quotation = given[1].price(DATA / "alder-lodge" / "prices.csv").table
    names = [name for one in given for name in one.tables]
    assert len(names) == len(set(names)), "no two tables have one name"
    for name, frame in {**{n: f for one in given for n, f in one.tables.items()}, "quotation": quotation}.items():
        described = {column.name for column in TABLES[name].columns}
        assert set(frame.columns) - described == set(), name
    titles = [TABLES[name].title for name in names]
    assert max(map(len, titles)) <= 31, "the most that the name of a sheet may have"
    assert len(titles) == len(set(titles)), "sheets of the workbook have names of their own"
    assert set(design.summary) - {column.name for column in SUMMARY} == set()
    assert set(JOB) | set(BALANCES) <= {column.name for column in SUMMARY}


@pytest.mark.parametrize(
    ("suffix", "unit"),
    [("_w", "W"), ("_m", "m"), ("_l_h", "l/h"), ("_kpa", "kPa"), ("_pa", "Pa"), ("_m_s", "m/s"), ("_kg_s", "kg/s"),
     ("_c", "°C"), ("_k", "K"), ("_m3_h", "m³/h"), ("_kw", "kW"), ("_l", "l")],
)  # fmt: skip
def test_headings_carry_the_unit_of_the_column_name(suffix: str, unit: str) -> None:
    longest = sorted(("_m3_h", "_kg_s", "_l_h", "_m_s", "_l_m", "_w_m", "_per_l"), key=len, reverse=True)
    for column in (c for spec in TABLES.values() for c in spec.columns):
        ends = next((s for s in longest if column.name.endswith(s)), None) or "_" + column.name.rsplit("_", 1)[-1]
        if ends == suffix and column.name != "arm":
            assert column.unit == unit, column.name


def test_gap_columns_follow_the_table() -> None:
    named = [column.name for column in TABLES["expansion_gaps"].columns]
    assert [f"gap_at_{temp_c}_c_mm" for temp_c in GAP_TEMPS_C] == named[3:]
