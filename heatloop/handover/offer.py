"""An offer: a quotation by supplier group with markup, labour and tax, each rounded once to the cent."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from heatloop.handover.parts.model import Part
from heatloop.handover.parts.supplier_groups import GROUPS, supplier_group
from heatloop.handover.quotation import Quotation
from heatloop.survey.documents.quotation import QuotationTerms


@dataclass(frozen=True)
class Offer:
    """An offer to a client, in the currency of the price file.

    `groups`: parts by supplier group with markup; estimated ones are marked. `labour` is None where no rate is stated,
    `tax` where no tax is stated; `total` includes what is stated. `missing`: parts without a price, which no sum
    includes.
    """

    currency: str
    groups: tuple[tuple[str, float, bool], ...]
    labour_h: float
    labour: float | None
    before_tax: float
    tax: float | None
    total: float
    missing: tuple[str, ...]
    valid_until: dt.date | None
    parts: tuple[Part, ...] = ()

    @property
    def is_complete(self) -> bool:
        """Whether every part has a price: it is then an offer, otherwise a budget."""
        return not self.missing


def offer_from(quotation: Quotation, terms: QuotationTerms, issued_on: dt.date) -> Offer:
    """The offer of a quotation on these terms, valid from its date of issue."""
    factor = 1.0 + terms.markup_percent / 100.0
    groups = []
    for group in GROUPS:
        lines = [line for line in quotation.lines if supplier_group(line.part) == group]
        if lines:
            cost = math.fsum(line.cost_order or 0.0 for line in lines)
            groups.append((group, round(cost * factor, 2), any(line.part.estimate for line in lines)))
    hours = float(quotation.facts["labour_min"]) / 60.0
    labour = None if terms.labour_rate_h is None else round(hours * terms.labour_rate_h, 2)
    before_tax = round(math.fsum([*(cost for _, cost, _ in groups), labour or 0.0]), 2)
    tax = None if terms.tax_percent is None else round(before_tax * terms.tax_percent / 100.0, 2)
    until = None if terms.valid_days is None else issued_on + dt.timedelta(days=terms.valid_days)
    return Offer(
        quotation.currency, tuple(groups), hours, labour, before_tax, tax, round(before_tax + (tax or 0.0), 2),
        quotation.missing, until, tuple(dict.fromkeys(line.part for line in quotation.lines)),
    )  # fmt: skip
