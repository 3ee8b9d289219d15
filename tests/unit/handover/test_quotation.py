"""Quotations worked out by hand, and price files that cannot be used."""

from __future__ import annotations

import pandas as pd
import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.handover.cutting.model import CuttingOptions
from heatloop.handover.parts.model import Part, PartsOptions
from heatloop.handover.parts.packaging import PackCount
from heatloop.handover.parts.parts_list import PartsListResult, parts_list_from
from heatloop.handover.price_file import prices_of
from heatloop.handover.quotation import Quotation, quotation_from
from heatloop.layout.build import build_layout
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge"
PROFILE = Part("profile", "profile", "m", 9.0, 1.0, 10.0, (PackCount("length of 5 m", 5.0, 2),), ("Loop",), 0.0, "")
ELBOW = Part("elbow", "fitting", "piece", 8.0, 1.0, 10.0, (PackCount("bag of 5", 5.0, 2),), ("Loop",), 0.0, "")
BAGS = (PackCount("bag of 30", 30.0, 1), PackCount("bag of 6", 6.0, 1))
SEAL = Part("seal", "consumable", "piece", 30.0, 0.0, 36.0, BAGS, (), 0.0, "")
VALVE = Part("valve", "valve", "piece", 3.0, 0.0, 3.0, (), ("Loop",), 0.0, "")
INHIBITOR = Part("inhibitor", "consumable", "l", 0.4, 0.0, 1.0, (PackCount("bottle", 1.0, 1),), (), 0.0, "")
GUESS = Part("profile", "profile", "m", 7.0, 0.7, 7.7, (), ("Loft",), 7.0, "estimate from the usable wall")


@pytest.fixture(scope="module")
def lodge() -> PartsListResult:
    survey = hl.read_survey(LODGE / "draft.toml")
    return parts_list_from(survey, build_layout(survey), 45.0, PartsOptions(cutting=CuttingOptions(time_limit_s=0.3)))


def quoted(lodge: PartsListResult, *parts: Part, lines: str) -> Quotation:
    """A quotation for some parts by the lines of a price file."""
    table = prices_of("# currency: EUR\nitem,price,per,discount_percent,labour_min\n" + lines, "prices.csv")
    return quotation_from(_only(lodge, parts), table)


def _only(lodge: PartsListResult, parts: tuple[Part, ...]) -> PartsListResult:
    values = {name: getattr(lodge, name) for name in lodge.__dataclass_fields__}
    return PartsListResult(**{**values, "part_lines": parts})


def test_price_per_metre_with_and_without_waste(lodge: PartsListResult) -> None:
    found = quoted(lodge, PROFILE, lines="profile,20.00,metre,10,14\n")
    (line,) = found.lines
    # 9 m fitted and 10 m bought at 18.00; 14 minutes a fitted metre
    assert (line.cost_net, line.cost_order, line.labour_min) == (162.00, 180.00, 126.0)
    assert found.summary == {
        "currency": "EUR", "net_cost": 162.00, "order_cost": 180.00, "labour_min": 126.0, "complete": True,
        "missing_prices": 0, "is_estimate": False,
    }  # fmt: skip


def test_price_per_piece_and_per_pack(lodge: PartsListResult) -> None:
    by_piece = quoted(lodge, ELBOW, lines="elbow,2.00,piece,0,5\n").lines[0]
    assert (by_piece.cost_net, by_piece.cost_order, by_piece.labour_min) == (16.00, 20.00, 40.0)
    quotation = quoted(lodge, ELBOW, lines="elbow,9.00,pack,0,25\n")
    assert quotation.table[["net_quantity", "order_quantity", "unit"]].values.tolist() == [[1.6, 2.0, "pack"]]
    (by_pack,) = quotation.lines
    # 8 of 5 in a bag are 1.6 bags fitted, 2 ordered
    assert (by_pack.cost_net, by_pack.cost_order, by_pack.labour_min) == (14.40, 18.00, 40.0)


def test_each_pack_of_an_item_at_its_own_price(lodge: PartsListResult) -> None:
    found = quoted(lodge, SEAL, lines='"seal, bag of 30",12.00,pack,,\n"seal, bag of 6",3.00,pack,,\n')
    assert [(line.pack, line.cost_order) for line in found.lines] == [("bag of 30", 12.00), ("bag of 6", 3.00)]
    # 30 of the 36 are fitted
    assert sum(line.cost_net or 0 for line in found.lines) == pytest.approx(15.00 * 30 / 36)
    alone = quoted(lodge, SEAL, lines="seal,0.50,piece,,\n").lines[0]
    assert (alone.cost_net, alone.cost_order) == (15.00, 18.00)


def test_price_per_litre(lodge: PartsListResult) -> None:
    assert quoted(lodge, INHIBITOR, lines="inhibitor,14.00,litre,,\n").lines[0].cost_net == pytest.approx(5.60)


def test_missing_prices_are_listed_and_in_no_total(lodge: PartsListResult) -> None:
    found = quoted(lodge, ELBOW, VALVE, PROFILE, lines="elbow,2.00,piece,,\nvalves,31.00,piece,,\nprofile,,metre,,\n")
    assert found.missing == ("valve", "profile")
    assert found.summary["complete"] is False
    assert (found.summary["missing_prices"], found.summary["order_cost"]) == (2, 20.00)
    table = found.table.set_index("item")
    assert table["order_cost"].isna().to_dict() == {"elbow": False, "valve": True, "profile": True}
    assert table.loc["valve", "note"] == 'no price in the file; the nearest is "valves"'
    assert table.loc["profile", "note"] == "its price is empty in the file"


def test_an_estimate_stays_one_in_the_quotation(lodge: PartsListResult) -> None:
    found = quoted(lodge, GUESS, ELBOW, lines="profile,20.00,metre,,\nelbow,2.00,piece,,\n")
    assert found.summary["is_estimate"] is True
    assert found.table["is_estimate"].tolist() == [True, False]
    assert found.lines[0].note == "estimate"
    assert found.lines[0].cost_order == pytest.approx(154.00)


def test_prices_per_what_is_not_counted_are_reported_at_once(lodge: PartsListResult) -> None:
    lines = "profile,20,piece,,\nelbow,2,metre,,\nvalve,3,pack,,\nseal,9,pack,,\ninhibitor,9,piece,,\n"
    with pytest.raises(InputError) as error:
        quoted(lodge, PROFILE, ELBOW, VALVE, SEAL, INHIBITOR, lines=lines)
    assert str(error.value).splitlines() == [
        'prices.csv: "profile", per: found "piece"; required: "metre", as the item is counted, or "pack"',
        'prices.csv: "elbow", per: found "metre"; required: "piece", as the item is counted, or "pack"',
        'prices.csv: "valve", per: found "pack"; required: "piece", as the item is counted',
        'prices.csv: "seal", per: found "pack"; required: "piece", as the item is counted, or a line per pack for '
        'each of its packs: "seal, bag of 30" ...',
        'prices.csv: "inhibitor", per: found "piece"; required: "litre", as the item is counted, or "pack"',
    ]
    with pytest.raises(
        InputError, match='"elbow, bag of 5", per: found "piece"; required: "pack", as the line names one'
    ):
        quoted(lodge, ELBOW, lines='"elbow, bag of 5",2,piece,,\n')


def test_demonstration_is_priced_in_full(lodge: PartsListResult) -> None:
    found = quotation_from(lodge, LODGE / "prices.csv")
    assert found.currency == "EUR"
    assert found.missing == ()
    summary = found.summary
    assert summary["net_cost"] < summary["order_cost"]
    assert summary["order_cost"] == pytest.approx(found.table["order_cost"].sum(), abs=0.005)
    profile = found.table[found.table["item"] == "two-channel 140"]
    # 46.50 less 12 % is 40.92 a metre
    stock_m = lodge.summary["stock_m"]
    assert profile["order_cost"].sum() == pytest.approx(40.92 * stock_m, abs=0.02)
    assert profile["net_cost"].sum() == pytest.approx(40.92 * lodge.cuts["length_mm"].sum() / 1000, abs=0.02)


def test_from_survey_to_quotation_by_the_public_names(alder_draft: hl.Design) -> None:
    handover = alder_draft.parts(PartsOptions(cutting=CuttingOptions(time_limit_s=0.3)))
    found = handover.price(str(LODGE / "prices.csv"))
    assert found.summary["complete"] is True
    litres = next(part for part in handover.part_lines if part.item == "inhibitor")
    assert litres.net_quantity == pytest.approx(0.01 * alder_draft.summary["water_content_l"])
    assert isinstance(handover.tables["parts"], pd.DataFrame)
    before = handover.parts
    before["item"] = "spoilt"
    assert not (handover.parts["item"] == "spoilt").any()
