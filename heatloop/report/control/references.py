"""References from a document to the documents on which it depends, by their identifications."""

from __future__ import annotations

from collections.abc import Mapping

from heatloop.report.control.control import DocumentControl
from heatloop.report.control.document_types import DOCUMENT_TYPES
from heatloop.text.formatting import listing

RELIES_ON: Mapping[str, tuple[tuple[str, str], ...]] = {
    "SF": (("FF", "positions of the pipes"), ("OL", "from which bar a piece is cut")),
    "OL": (("SF", "place of each piece"), ("LB", "to attach to each piece when it is cut")),
    "OP": (("SF", "place of each piece"), ("LB", "to attach to each piece when it is cut")),
    "CS": (("UG", "final settings and water"),),
    "UG": (("CS", "pressures, flows and settings at commissioning"),),
    "PL": (("FF", "pipe positions"), ("SF", "pieces in the order of fixing"), ("CS", "settings of the valves")),
}
"""By the letters of a document: those that it relies on, and for what. Each is written where the document itself is."""


def references(control: DocumentControl, code: str) -> str:
    """Sentence with the documents on which one depends; empty where there are none."""
    named = [
        f"{DOCUMENT_TYPES[other].title.lower()} {control.identification(other)} ({reason})"
        for other, reason in RELIES_ON.get(code, ())
    ]
    return f"See {listing(named)}." if named else ""
