"""The quotation: scope, price by group, exclusions, time on site, terms, acceptance."""

from __future__ import annotations

from heatloop.handover.offer import Offer
from heatloop.handover.parts.not_ordered import not_ordered
from heatloop.report.control.control import DocumentControl
from heatloop.report.documents.document import DocumentContent, DocumentPaper, document_page
from heatloop.results.design import DesignResult
from heatloop.text.formatting import listing, number, plural

QUOTATION = DocumentPaper("QU")


def quotation_document(design: DesignResult, offer: Offer, control: DocumentControl) -> str:
    """The quotation as a complete page: binding where every part has a price, else a budget."""
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
                "scope": _scope(design, offer),
                "client": control.document.client,
                "address": control.document.site_address,
                "terms": terms,
                "not_ordered": not_ordered(design.survey, offer.parts),
            },
        ),
    )


def _scope(design: DesignResult, offer: Offer) -> str:
    """What is supplied and, where labour has a price, done."""
    work = "filling, water treatment and commissioning"
    supply, parts, rest = "Supply and installation", f"pipework, valves, {work}", ""
    if offer.labour is None:
        supply, parts = "Supply", "pipework and valves"
        rest = f" Installation, {work}: price to be agreed."
    rooms, loops = design.frames["rooms"], design.frames["loops"]
    metres = float(loops["heated_length_m"].sum())
    names = listing(str(name) for name in rooms.loc[rooms["heated_length_m"] > 0.0, "room"])
    return (
        f"{supply} of water-heated skirting in {plural(len(rooms), 'room')} ({names}): "
        f"{number(metres, 1)} m of heated skirting in {plural(len(loops), 'loop')}, with {parts}.{rest} "
        f"The water leaves the heat source at "
        f"{number(float(design.facts['flow_temp_c']), 1)} °C when it is "
        f"{number(float(design.facts['outdoor_c']), 1).replace('-', '−')} °C outside."
    )
