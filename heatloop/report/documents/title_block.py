"""The title block of a document: its fields in words, in rows that fill the width of an A4 page."""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass
from importlib import metadata

from heatloop.survey.survey import Survey
from heatloop.text.formatting import escape_control_characters

NOTHING = "–"
"""Stands in an empty field: a field never disappears."""


@dataclass(frozen=True)
class DocumentControl:
    """What identifies every document of one issue, in words; "" where nothing is stated."""

    project: str
    job: str = ""
    client: str = ""
    site_address: str = ""
    owner: str = ""
    prepared_by: str = ""
    checked: str = ""
    approved: str = ""
    status: str = ""
    revision: str = ""
    issued_on: str = ""
    input_hash: str = ""
    version: str = ""


@dataclass(frozen=True)
class Field:
    """One field of the title block: its name, its words, and its share of the width in 24ths."""

    name: str
    words: str
    width: int
    large: bool = False


def control_of(survey: Survey) -> DocumentControl:
    """Document control of a survey."""
    return DocumentControl(
        project=escape_control_characters(survey.project.name),
        issued_on=dt.date.today().isoformat(),
        input_hash=hashlib.sha256(repr(survey).encode("utf-8", "replace")).hexdigest()[:12],
        version=package_version(),
    )


def package_version() -> str:
    """Version of the package, or what it is run from."""
    try:
        return metadata.version("heatloop")
    except metadata.PackageNotFoundError:
        return "source checkout"


def title_fields(control: DocumentControl, title: str, kind: str, identification: str) -> tuple[Field, ...]:
    """The fields of the title block in the order of its three rows, each row 24 wide."""
    given = (
        ("Title", title, 10, True),
        ("Document", kind, 5, False),
        ("Identification", identification, 5, False),
        ("Revision", control.revision, 4, False),
        ("Client", control.client, 6, False),
        ("Address", control.site_address, 9, False),
        ("Status", control.status, 5, False),
        ("Date of issue", control.issued_on, 4, False),
        ("Legal owner", control.owner, 6, False),
        ("Created by", control.prepared_by, 4, False),
        ("Checked by", control.checked, 5, False),
        ("Approved by", control.approved, 4, False),
        ("Input, heatloop", f"{control.input_hash or NOTHING}, {control.version}", 5, False),
    )
    return tuple(Field(name, words or NOTHING, width, large) for name, words, width, large in given)
