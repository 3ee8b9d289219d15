"""Terms of an offer: values of the survey that do not change the design."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class QuotationTerms:
    """Terms of an offer in addition to the parts; values not stated are None or empty, and no default is assumed.

    `markup_percent` is added to the cost of parts. `labour_rate_h` is the price of an hour of labour in the currency of
    the price file (None: labour is offered in hours, not in money). `tax_percent` is added to the total.
    """

    markup_percent: float = 0.0
    labour_rate_h: float | None = None
    tax_percent: float | None = None
    valid_days: int | None = None
    exclusions: tuple[str, ...] = ()
    terms: tuple[str, ...] = ()
