"""The summary of remedies states its measure, what is not proved, and what has no price."""

import math

import pytest

from heatloop.report.plots.price_by_flow_temp import price_by_flow_temp_plot
from heatloop.results.improvement import BY_FLOW_TEMP, REMEDIES, REMEDY_PARTS, REMEDY_ROOMS, ImprovementResult
from heatloop.text.table_set import table_frame

FACTS = {
    "project": "House", "headline": "Not ready for installation.", "checks_failed": 1, "shortcomings": 1, "remedies": 2,
    "resolving": 1, "tried": 7, "currency": "EUR", "measure": "price", "without_remedy": "", "missing_prices": "",
    "year": "", "year_currency": "",
}  # fmt: skip


def remedy(number, **values):
    plain = dict.fromkeys(REMEDIES.names, math.nan)
    words = {"check": "heat to the room", "location": "Hall", "kind": "building", "remedy": f"remedy {number}",
             "unit": "W", "min_margin_room": "Hall", "assumed": "", "not_possible": ""}  # fmt: skip
    flags = {"number": number, "resolves": True, "other_work": False, "before": -50.0, "after": 5.0, "limit": 0.0}
    return plain | words | flags | {"price_change": 12.5, "checks_failed": 0, "checks_caution": 1} | values


def at(flow_temp_c, price, bound, **values):
    found = not math.isnan(price)
    row = {"flow_temp_c": flow_temp_c, "rooms_short": 1, "checks_failed": 1, "found": found, "remedies": "a valve",
           "changes": 1, "profile_added_m": 0.5, "price_change": price, "checks_caution": 0, "bound": bound, "tried": 3,
           "yearly_cost": math.nan, "assumed": "", "note": "" if found else "no combination passes"}  # fmt: skip
    return row | values


def result(remedies, temperatures, **facts):
    frames = {
        REMEDIES.name: table_frame(REMEDIES, remedies),
        REMEDY_ROOMS.name: table_frame(REMEDY_ROOMS, []),
        REMEDY_PARTS.name: table_frame(REMEDY_PARTS, []),
        BY_FLOW_TEMP.name: table_frame(BY_FLOW_TEMP, temperatures),
    }
    return ImprovementResult(frames, FACTS | facts)


def test_a_search_that_ended_early_is_stated():
    text = " ".join(str(result([remedy(1)], [at(45.0, 30.0, 12.0), at(50.0, 10.0, 10.0)])).split())
    assert "the search ended early" in text
    proved = str(result([remedy(1)], [at(50.0, 10.0, 10.0)]))
    assert "proved" not in proved


def test_the_figure_has_bounds_and_temperatures_without_a_survey():
    found = result([remedy(1)], [at(40.0, math.nan, math.nan), at(45.0, 30.0, 12.0), at(50.0, 10.0, 10.0)])
    text = price_by_flow_temp_plot(found).alt_text
    assert text == (
        "Least cost by flow temperature. 45.0 °C: +30.00 EUR (at least +12.00 EUR); 50.0 °C: +10.00 EUR. None found at "
        "40.0 °C."
    )
    none = price_by_flow_temp_plot(result([remedy(1)], [at(40.0, math.nan, math.nan)]))
    assert none.axes.get_title(loc="left") or none.axes.get_title()
    assert "None found." in none.alt_text


def test_costs_that_are_not_in_the_parts_list_are_a_dash():
    rows = [remedy(1), remedy(2, other_work=True, resolves=False, after=-20.0), remedy(3, not_possible="no room")]
    lines = str(result(rows, [])).splitlines()
    first, second, third = (next(line for line in lines if line.startswith(f"{n} ")) for n in (1, 2, 3))
    assert first.split()[-1] == "12.50" or first.split()[-1] == "+12.50"
    assert "not enough: -20 W" in second
    assert second.split()[-1] == "–"
    assert "not possible" in third
    assert "  - 3: no room." in lines


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"missing_prices": "vent; drain valve"}, "Without a price, and in no price change: vent; drain valve."),
        ({"without_remedy": "pump reserve (pump)"}, "No remedy is tried for pump reserve (pump)."),
        (
            {"currency": "", "measure": "profile added"},
            "Without prices, the cheapest design is that with the least profile added",
        ),
    ],
)
def test_what_is_left_out_is_named(facts, words):
    assert words in " ".join(str(result([remedy(1)], [at(50.0, 10.0, 10.0)], **facts)).split())
