"""What is fitted: the parts list before rounding to pieces and packs, and its price."""

import math
from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.handover.parts.fitted import FittedItem, fitted_items, fitted_price, unit_price
from heatloop.handover.price_file import Price, PriceList, read_prices
from heatloop.hydraulics.analysis.water_content import system_water_l
from heatloop.survey.catalogue import PackSize
from tests.helpers.one_loop import CATALOGUE
from tests.helpers.paths import DATA

PRICES = read_prices(DATA / "alder-lodge" / "prices.csv")


@pytest.fixture(scope="module")
def items(alder_lodge):
    return fitted_items(
        alder_lodge.survey, alder_lodge.layout, system_water_l(alder_lodge.survey, alder_lodge.system.state.network)
    )


@pytest.fixture(scope="module")
def parts(alder_lodge):
    return alder_lodge.parts(hl.PartsOptions(cutting=hl.CuttingOptions(time_limit_s=0.5)))


def test_quantities_are_those_of_the_parts_list_before_rounding(items, parts):
    listed = {}
    for part in parts.part_lines:
        listed[part.item] = listed.get(part.item, 0.0) + part.net_quantity
    assert {item.item for item in items} == set(listed)
    for item in items:
        if item.kind == "profile":
            assert item.quantity == pytest.approx(listed[item.item], abs=0.001 * parts.summary["pieces"])
        else:
            rounded = math.ceil(item.quantity - 1e-9) if item.unit == "piece" else item.quantity
            assert rounded == pytest.approx(listed[item.item])


def test_the_price_is_that_of_the_quotation_but_for_whole_pieces(alder_lodge, items, parts):
    total, missing = fitted_price(alder_lodge.survey.catalogue, PRICES, items)
    quotation = parts.price(PRICES)
    assert not missing
    assert total == pytest.approx(quotation.summary["net_cost"], rel=0.005)


def test_a_pack_is_priced_by_the_unit_and_the_cheapest_counts():
    sizes = (PackSize("clip", "bag", 10.0), PackSize("clip", "box", 50.0))
    several = hl.read_survey(DATA / "alder-lodge" / "survey.toml").catalogue
    clip = FittedItem("clip", "fixing", "piece", 4.0)
    both = replace(CATALOGUE, packs=sizes)
    packs = PriceList("p", "EUR", (Price("clip, bag", 3.0, "pack"), Price("clip, box", 10.0, "pack", 10.0)))
    assert unit_price(both, packs, clip) == pytest.approx(0.18)
    one = replace(CATALOGUE, packs=sizes[:1])
    assert unit_price(one, PriceList("p", "EUR", (Price("clip", 3.0, "pack"),)), clip) == pytest.approx(0.3)
    assert unit_price(one, PriceList("p", "EUR", (Price("clip", 0.4, "piece"),)), clip) == pytest.approx(0.4)
    assert unit_price(several, PRICES, clip) is None
    assert fitted_price(several, PRICES, [clip]) == (0.0, ("clip",))
