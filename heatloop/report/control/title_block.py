"""The title block: its data fields, and the block as HTML for the head of a document.

Fields are those of ISO 7200 (from memory): owner of the document, identification, date of issue, sheet, title,
approved by, created by, document type; beside them client and address, checked by, revision, status, scale and hashes.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources

from markupsafe import Markup

from heatloop.report.control.control import DocumentControl
from heatloop.report.control.document_types import DOCUMENT_TYPES
from heatloop.text.html import rendered

EMPTY = "\N{EN DASH}"
"""Text of a field without a value; empty fields remain visible."""


@dataclass(frozen=True)
class DocumentSheet:
    """One document or one of its sheets: type, number among those of its type, sheet n of m, title and scale.

    An empty title is made of the project and the type; an empty scale prints a dash. `of` is 0 for a document whose
    pages are counted at their foot, as it is printed.
    """

    code: str
    number: int = 1
    sheet: int = 1
    of: int = 1
    title: str = ""
    scale: str = ""


@dataclass(frozen=True)
class BlockField:
    """One field of a title block: key, name as printed, value as printed."""

    key: str
    name: str
    value: str


ROWS: tuple[tuple[str, ...], ...] = (
    ("owner", "client", "title", "type"),
    ("created", "checked", "approved", "status"),
    ("identification", "revision", "date", "scale", "sheet", "input", "design"),
)
"""Keys of the fields, row by row, as the block of a page has them."""

CLIENT_CODES = ("CL", "QU", "UG", "PL")
CLIENT_HASHES = ("Code of input", "Code of design")
"""Documents for the client, and the words for the hashes in them."""


def block_fields(control: DocumentControl, sheet: DocumentSheet) -> dict[str, BlockField]:
    """Every field of the title block by its key; KeyError for a document type that is none."""
    kind = DOCUMENT_TYPES[sheet.code]
    document = control.document
    client = ", ".join(filter(None, (document.client, *document.site_address)))
    input_name, design_name = CLIENT_HASHES if sheet.code in CLIENT_CODES else ("Input hash", "Design hash")
    values = (
        ("owner", "Owner of this document", document.owner),
        ("client", "Client, site", client),
        ("title", "Title", sheet.title or f"{control.project}: {kind.title[:1].lower()}{kind.title[1:]}"),
        ("type", "Document type", kind.title),
        ("created", "Created by", document.prepared_by),
        ("checked", "Checked by", control.checked_by),
        ("approved", "Approved by", control.approved_by),
        ("status", "Status", control.status),
        ("identification", "Identification", control.identification(sheet.code, sheet.number)),
        ("revision", "Revision", control.revision),
        ("date", "Date of issue", control.issued_on.isoformat()),
        ("scale", "Scale", sheet.scale),
        ("sheet", "Sheet", f"{sheet.sheet} / {sheet.of}" if sheet.of else "at foot of printed page"),
        ("input", input_name, control.input_hash),
        ("design", design_name, control.design_hash),
    )
    return {key: BlockField(key, name, value.strip() or EMPTY) for key, name, value in values}


def title_block_html(control: DocumentControl, sheet: DocumentSheet) -> Markup:
    """The title block across the head of a page, three rows, with the warning where the document is not for
    construction. Styled by :func:`title_block_css`; KeyError for a document type that is none."""
    fields = block_fields(control, sheet)
    rows = [[fields[key] for key in row] for row in ROWS]
    return Markup(rendered("heatloop.report.control", "title_block.html", rows=rows, warning=control.warning))


def title_block_css() -> str:
    """The style sheet of the title block."""
    return resources.files("heatloop.report.control").joinpath("title_block.css").read_text(encoding="utf-8")


def running_line(control: DocumentControl, sheet: DocumentSheet) -> str:
    """The line at the foot of every page: identification, project, document, revision, status and input hash."""
    fields = block_fields(control, sheet)
    keys = ("identification", "type", "revision", "status", "input")
    name = fields["input"].name
    words = {"revision": "revision ", "input": f"{name[:1].lower()}{name[1:]} "}
    first, *others = (words.get(key, "") + fields[key].value for key in keys)
    return " \N{MIDDLE DOT} ".join((first, control.project, *others))
