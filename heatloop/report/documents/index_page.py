"""The index of an issue: verdict, title block, files by reader with their size, and documents not written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heatloop.findings.verdict import Verdict
from heatloop.report.control.control import DocumentControl
from heatloop.report.control.document_types import DOCUMENT_TYPES
from heatloop.report.documents.document import DocumentContent, DocumentPaper, document_body, whole_page

READERS = {
    "client": (
        "Client",
        "summary, quotation, user guide and interactive plan (also for the checking engineer)",
    ),
    "fitter": ("Fitter", "first fix, second fix, commissioning"),
    "order": ("Buyer and workshop", "order and cutting"),
    "check": ("Checking engineer", "check of the design"),
    "data": ("Data", "tables and results for the archive and for other programs"),
}
"""Folders of an issue in order: who reads what is in them, and to do what."""

FITTER_PACK_CONTENTS = " (first fix, second fix, commissioning sheet and labels in one file)"


@dataclass(frozen=True)
class IssuedFile:
    """One file of an issue: its place in the folder, its title, its identification and its size in bytes."""

    name: str
    title: str
    identification: str
    size: int

    @property
    def folder(self) -> str:
        """The folder that it is in."""
        return self.name.partition("/")[0]

    @property
    def contents(self) -> str:
        """Other documents that it contains, in words; empty for a document by itself."""
        return FITTER_PACK_CONTENTS if self.title.partition(",")[0] == DOCUMENT_TYPES["FP"].title else ""

    @property
    def kilobytes(self) -> str:
        """Its size in words."""
        return f"{max(1, round(self.size / 1024))} kB"


def index_page(
    control: DocumentControl, verdict: Verdict, files: Sequence[IssuedFile], left_out: Sequence[tuple[str, str]]
) -> str:
    """The index as a complete page; `left_out` lists the titles of documents not written, each with its reason."""
    groups = [
        (*READERS[folder], [file for file in files if file.folder == folder])
        for folder in READERS
        if any(file.folder == folder for file in files)
    ]
    paper = DocumentPaper("IX")
    values = {"groups": groups, "left_out": left_out, "cautions": control.cautions}
    return whole_page(paper, control, document_body(paper, control, verdict, DocumentContent("index.html", values)))
