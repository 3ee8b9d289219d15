"""The quotation: scope, price by group, exclusions, time on site, terms, acceptance."""

from __future__ import annotations

from heatloop.handover.offer import Offer
from heatloop.handover.parts.not_ordered import not_ordered
from heatloop.report.control.control import DocumentControl
from heatloop.report.documents.document import (
    LIMITS_MEANT,
    TRUNK_MEANT,
    DocumentContent,
    DocumentPaper,
    document_page,
)
from heatloop.results.design import DesignResult
from heatloop.survey.documents.quotation import QuotationTerms
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import listing, number, plural

QUOTATION = DocumentPaper("QU")

WORK = "filling, water treatment and commissioning"
"""Work on site beside installation."""


def quotation_document(design: DesignResult, offer: Offer, control: DocumentControl) -> str:
    """The quotation as a complete page: a budget where a part has no price, else binding once its terms are stated."""
    terms = design.survey.quotation
    return document_page(
        QUOTATION,
        control,
        design.verdict,
        DocumentContent(
            "quotation.html",
            {
                "offer": offer,
                "is_ready": not design.verdict.fails,
                "open": _open(offer, terms),
                "for_parts": " for the parts" if offer.labour is None else "",
                "work": WORK,
                "limits_meant": LIMITS_MEANT,
                "scope": _scope(design, offer),
                "client": control.document.client,
                "address": control.document.site_address,
                "terms": terms,
                "not_ordered": not_ordered(design.survey, offer.parts),
                "trunk_meant": f" ({TRUNK_MEANT})" if design.survey.trunks else "",
            },
        ),
    )


def _open(offer: Offer, terms: QuotationTerms) -> tuple[str, ...]:
    """What a binding quotation states and this one does not."""
    return tuple(word for word, stated in (("validity", offer.valid_until), ("terms", terms.terms)) if not stated)


def new_emitters(survey: SurveyData) -> tuple[str, ...]:
    """Other emitters that are supplied, each with its room; those that exist are not."""
    return tuple(
        f'heat emitter "{item.emitter}" in {item.room}'
        for loop in survey.loops
        for item in loop.emitters
        if not item.existing
    )


def _scope(design: DesignResult, offer: Offer) -> str:
    """What is supplied and, where labour has a price, done."""
    supply, parts = "Supply and installation", f"pipework, valves, {WORK}"
    if offer.labour is None:
        supply, parts = "Supply", "pipework and valves"
    rooms, loops = design.frames["rooms"], design.frames["loops"]
    circuits = f"{plural(len(loops), 'loop')} (a loop is a closed circuit of skirting and pipes)"
    metres = float(loops["heated_length_m"].sum())
    names = listing(str(name) for name in rooms.loc[rooms["heated_length_m"] > 0.0, "room"])
    emitters = "".join(f", {words}" for words in new_emitters(design.survey))
    return (
        f"{supply} of water-heated skirting in {plural(len(rooms), 'room')} ({names}): "
        f"{number(metres, 1)} m of heated skirting in {circuits}{emitters}, with {parts}. "
        f"The water leaves the heat source at "
        f"{number(float(design.facts['flow_temp_c']), 1)} °C when it is "
        f"{number(float(design.facts['outdoor_c']), 1).replace('-', '−')} °C outside."
    )
