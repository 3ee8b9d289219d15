"""Figures that a reader can compute from their own row, within the last digit that is printed of each."""

from __future__ import annotations

import pandas as pd
import pytest

import heatloop as hl
from heatloop.text.column import Column
from heatloop.text.formatting import cell_text
from heatloop.text.table_set import TableSet

Interval = tuple[float, float]


def printed(result: TableSet, table: str, name: str) -> list[Interval]:
    """What may stand behind each printed figure of a column: half a unit of its last digit to either side."""
    column: Column = type(result).descriptions()[table].column(name)
    found = []
    for value in result.tables[table][name]:
        text = cell_text(column, value).replace(",", "").lstrip("+").replace("\N{MINUS SIGN}", "-")
        if value != value:  # nothing is printed where there is no value
            found.append((float("nan"), float("nan")))
            continue
        half = 0.5 * 10.0 ** -len(text.partition(".")[2])
        found.append((float(text) - half, float(text) + half))
    return found


def overlap(one: Interval, other: Interval) -> bool:
    return one[0] <= other[1] + 1e-9 and other[0] <= one[1] + 1e-9


def ratio(above: Interval, below: Interval) -> Interval:
    """The quotients of two positive figures."""
    return above[0] / below[1], above[1] / below[0]


@pytest.fixture(params=["alder_lodge", "alder_draft", "harbour_loft"])
def design(request: pytest.FixtureRequest) -> hl.Design:
    found: hl.Design = request.getfixturevalue(request.param)
    return found


def test_margin_and_coverage_follow_from_loss_back_loss_and_output(design: hl.Design) -> None:
    names = ("heat_loss_w", "back_loss_w", "heat_to_rooms_w", "margin_w", "coverage")
    columns = [printed(design, "rooms", name) for name in names]
    heated = design.rooms["coverage"].notna() & (design.rooms["heat_loss_w"] > 0.0)
    rows = [row for row, kept in zip(zip(*columns, strict=True), heated, strict=True) if kept]
    assert rows
    for loss, back, output, margin, coverage in rows:
        need = loss[0] + back[0], loss[1] + back[1]
        assert overlap((output[0] - need[1], output[1] - need[0]), margin)
        percent = tuple(100.0 * end for end in ratio(output, need))
        assert overlap((percent[0], percent[1]), coverage)


def test_authority_follows_from_the_two_pressures_of_its_row(design: hl.Design) -> None:
    valves = design.valves
    rows = [
        row
        for row, closes in zip(
            zip(
                *(
                    printed(design, "valves", n)
                    for n in ("open_pressure_drop_kpa", "closing_pressure_kpa", "authority")
                ),
                strict=True,
            ),
            valves["is_thermostatic"],
            strict=True,
        )
        if closes
    ]
    assert rows
    for opened, closed, authority in rows:
        assert overlap(ratio(opened, closed), authority)
    assert (valves["authority"].dropna() < 1.0).all()


def test_shares_of_the_sources_heat_follow_from_its_watts(design: hl.Design) -> None:
    heat_w, shares = (printed(design, "source_heat_balance", name) for name in ("heat_w", "share_percent"))
    for part, share in zip(heat_w, shares, strict=True):
        low, high = ratio(part, heat_w[-1])
        assert overlap((100.0 * low, 100.0 * high), share)
    assert overlap((sum(one[0] for one in heat_w[:-1]), sum(one[1] for one in heat_w[:-1])), heat_w[-1])


def test_the_accepted_band_stands_round_the_flow_as_tested(alder_draft: hl.Design) -> None:
    sheet: pd.DataFrame = alder_draft.commissioning().commissioning
    tested = sheet["flow_heads_removed_l_h"]
    assert sheet["min_flow_l_h"].tolist() == pytest.approx((0.9 * tested).tolist())
    assert sheet["max_flow_l_h"].tolist() == pytest.approx((1.1 * tested).tolist())
    # a band round the flow as designed would refuse this valve though it stands as it should
    arm = sheet[(sheet["loop"] == "Living room") & (sheet["arm"] == 2)].iloc[0]
    assert arm["flow_heads_removed_l_h"] > 1.1 * arm["target_flow_l_h"]
