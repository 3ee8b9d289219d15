"""Quotation: totals, terms, a place to sign, and no acceptance of a design that is not ready."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from heatloop.handover.offer import offer_from
from heatloop.report.documents.quotation import new_emitters, quotation_document
from heatloop.survey.documents.quotation import QuotationTerms
from tests.helpers.altered import with_survey
from tests.helpers.browser import Browser
from tests.helpers.handed import Handed
from tests.helpers.html_page import HtmlPage
from tests.helpers.paths import DATA
from tests.helpers.printed import printed_pages


def quotation(one: Handed, terms: QuotationTerms) -> str:
    design = with_survey(one.design, quotation=terms)
    offer = offer_from(one.parts.price(DATA / "alder-lodge" / "prices.csv"), terms, one.control.issued_on)
    return quotation_document(design, offer, one.control)


def test_an_offer_has_totals_terms_and_a_place_to_sign(nine_rooms: Handed) -> None:
    terms = QuotationTerms(20.0, 55.0, 20.0, 60, ("Electrical work by others",), ("Half on order",))
    text = HtmlPage(quotation(nine_rooms, terms)).text
    for words in (
        "Binding quotation",
        "Electrical work by others",
        "Half on order",
        "Valid until 2027-01-28",
        "Signature",
    ):
        assert words in text
    assert "Budget" not in text
    assert "two-channel 140" not in text, "no price of a single part"


def test_required_parts_that_are_not_priced_are_named(nine_rooms: Handed) -> None:
    text = HtmlPage(quotation(nine_rooms, QuotationTerms())).text
    assert "they are not in the price (trunk: pipes from the heat source to one or more loops)." in text
    assert "Possibly contained in the heat source: pump at the heat source; expansion vessel; relief valve" in text
    assert "buffer vessel, 30 l of water." in text
    assert 'To be bought separately: pump of trunk "nursery"; mixing valve of trunk "nursery"; filter' in text
    assert "thermostatic heads; cleanser." in text


def test_other_emitters_are_in_the_scope_unless_they_exist(nine_rooms: Handed) -> None:
    text = HtmlPage(quotation(nine_rooms, QuotationTerms())).text
    emitter = 'heat emitter "plinth emitter 450" in Kitchen-diner'
    assert (
        f"in 6 loops (a loop is a closed circuit of skirting and pipes), {emitter}, with pipework and valves." in text
    )
    assert "Skirting, covers and emitters" in text
    survey = nine_rooms.design.survey
    loops = tuple(replace(loop, emitters=tuple(replace(one, existing=True) for one in loop.emitters))
                  for loop in survey.loops)  # fmt: skip
    assert new_emitters(replace(survey, loops=loops)) == ()


def test_a_quotation_binds_only_with_validity_and_terms(nine_rooms: Handed) -> None:
    text = HtmlPage(quotation(nine_rooms, QuotationTerms())).text
    assert "Quotation for the parts, not binding yet: validity and terms not stated" in text
    assert text.lower().count("not stated") == 4, "client, tax, exclusions, and once validity and terms"
    assert "Signature" not in text
    only_valid = HtmlPage(quotation(nine_rooms, QuotationTerms(valid_days=60))).text
    assert "not binding yet: terms not stated" in only_valid


def test_a_budget_names_what_is_missing_and_cannot_be_signed(one_room: Handed) -> None:
    text = HtmlPage(quotation(one_room, QuotationTerms())).text
    assert "Budget, not a binding quotation: no price for three-channel 175" in text
    assert "Signature" not in text
    assert "Tax not stated" in text


def test_the_quotation_is_short(sizes: dict[str, Handed], tmp_path: Path, browser: Browser) -> None:
    assert len(printed_pages(quotation(sizes["twenty rooms"], QuotationTerms()), tmp_path, browser)) <= 3


def test_an_offer_for_a_design_that_is_not_ready_cannot_be_accepted(draft: Handed) -> None:
    text = HtmlPage(quotation(draft, QuotationTerms(20.0, 55.0, 20.0, 60, (), ()))).text
    assert "this quotation cannot be accepted yet" in text
    assert "Signature" not in text
