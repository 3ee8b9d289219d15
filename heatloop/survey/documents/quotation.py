"""On which terms an offer is made: values of the survey that change no design."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class QuotationTerms:
    """What an offer states beside the parts; what is not stated is None or empty, and nothing is assumed for it.

    `markup_percent` is added to the cost of parts; `labour_rate_h` is the price of an hour of labour in the currency
    of the price file (None: labour is offered in hours, not in money); `tax_percent` is added to the whole.
    """

    markup_percent: float = 0.0
    labour_rate_h: float | None = None
    tax_percent: float | None = None
    valid_days: int | None = None
    exclusions: tuple[str, ...] = ()
    terms: tuple[str, ...] = ()
