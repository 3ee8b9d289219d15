"""Types of documents with their words and titles; identifications and file names."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class DocumentType:
    """One type of document: the letters of its identification, the words of its file name, and its title."""

    code: str
    words: str
    title: str


DOCUMENT_TYPES: Mapping[str, DocumentType] = {
    document_type.code: document_type
    for document_type in (
        DocumentType("CL", "client-summary", "Client summary"),
        DocumentType("QU", "quotation", "Quotation"),
        DocumentType("UG", "user-guide", "User guide"),
        DocumentType("FF", "first-fix", "First fix"),
        DocumentType("SF", "second-fix", "Second fix"),
        DocumentType("LB", "labels", "Labels"),
        DocumentType("CS", "commissioning", "Commissioning sheet"),
        DocumentType("OL", "order", "Order and cut list"),
        DocumentType("OP", "order-priced", "Order and cut list, priced"),
        DocumentType("DR", "design-report", "Design report"),
        DocumentType("PL", "interactive-plan", "Interactive plan"),
        DocumentType("WB", "workbook", "Workbook"),
        DocumentType("DX", "drawing", "First fix, drawing file"),
        DocumentType("FP", "fitter-pack", "Fitter pack"),
        DocumentType("IX", "index", "Index"),
    )
}

NO_REVISION = "-"
"""Mark of documents that were never issued."""


def ascii_words(text: str) -> str:
    """A text for identifications and file names: letters of ASCII, digits, points, and hyphens for all else.

    >>> ascii_words("Maison d'Été, 2"), ascii_words("24/117")
    ('Maison-d-Ete-2', '24-117')
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii")
    return re.sub(r"[^A-Za-z0-9.]+", "-", plain).strip("-.")


def identification_text(job: str, project: str, code: str, number: int) -> str:
    """`<job>-<type>-<number>`; the name of the project replaces a job that is not given.

    >>> identification_text("24-117", "Alder Lodge", "FF", 1), identification_text("", "Alder Lodge", "FF", 2)
    ('24-117-FF-01', 'Alder-Lodge-FF-02')
    """
    return f"{ascii_words(job) or ascii_words(project) or 'project'}-{code}-{number:02d}"


def file_name_text(identification: str, revision: str, words: str, extension: str) -> str:
    """`<identification>_<revision>_<words>.<ext>`.

    >>> file_name_text("24-117-FF-01", "P02", "first-fix", "pdf")
    '24-117-FF-01_P02_first-fix.pdf'
    """
    mark = ascii_words(revision) or NO_REVISION
    return f"{identification}_{mark}_{ascii_words(words).lower()}.{extension}"
