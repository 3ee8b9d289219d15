"""The offer: groups with markup, labour by rate or in hours, tax once on the whole, nothing assumed."""

from __future__ import annotations

import datetime as dt
import math

import pytest

import heatloop as hl
from heatloop.handover.offer import offer_from
from heatloop.handover.quotation import Quotation
from heatloop.survey.documents.quotation import QuotationTerms
from tests.helpers.paths import DATA

DAY = dt.date(2026, 11, 29)


@pytest.fixture(scope="module")
def quotation(alder_lodge: hl.Design) -> Quotation:
    parts = alder_lodge.parts(hl.PartsOptions(cutting=hl.CuttingOptions(time_limit_s=0.5)))
    return parts.price(DATA / "alder-lodge" / "prices.csv")


def test_without_terms_an_offer_is_the_cost_and_labour_is_in_hours(quotation: Quotation) -> None:
    offer = offer_from(quotation, QuotationTerms(), DAY)
    assert offer.before_tax == offer.total == quotation.summary["order_cost"]
    assert (offer.labour, offer.tax, offer.valid_until) == (None, None, None)
    assert offer.labour_h == pytest.approx(quotation.summary["labour_min"] / 60.0)
    assert offer.is_complete


def test_markup_labour_and_tax(quotation: Quotation) -> None:
    plain = offer_from(quotation, QuotationTerms(), DAY)
    offer = offer_from(quotation, QuotationTerms(20.0, 50.0, 10.0, 30), DAY)
    for (name, cost, _), (other, marked, _) in zip(plain.groups, offer.groups, strict=True):
        assert name == other
        assert marked == pytest.approx(1.2 * cost, abs=0.006)
    assert offer.labour == pytest.approx(50.0 * offer.labour_h, abs=0.006)
    shown = math.fsum(cost for _, cost, _ in offer.groups) + (offer.labour or 0.0)
    assert offer.before_tax == pytest.approx(shown, abs=1e-9), "the sum of what is printed"
    assert offer.tax == pytest.approx(0.1 * offer.before_tax, abs=0.006)
    assert offer.total == pytest.approx(offer.before_tax + (offer.tax or 0.0), abs=1e-9)
    assert offer.valid_until == dt.date(2026, 12, 29)


def test_a_missing_price_makes_a_budget(mill_annexe: hl.Design) -> None:
    priced = mill_annexe.parts().price(DATA / "alder-lodge" / "prices.csv")
    offer = offer_from(priced, QuotationTerms(), DAY)
    assert not offer.is_complete
    assert "three-channel 175" in offer.missing
