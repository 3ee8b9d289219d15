"""Title, authors, checks and approvals of the documents of a job: values of the survey.

These values do not change the design. Other data for first fix are in
:class:`heatloop.survey.documents.first_fix.FirstFixBasis`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

AskedStatus = Literal["draft", "for comment", "for construction", "as built", "withdrawn"]


@dataclass(frozen=True)
class Revision:
    """One issue of the documents: its mark, its date and what changed."""

    mark: str
    on: dt.date
    words: str = ""


@dataclass(frozen=True)
class DesignCheck:
    """A check by another person; `design` is the design hash (12 hexadecimal digits or more) that was checked."""

    by: str
    on: dt.date
    design: str


@dataclass(frozen=True)
class Approval:
    """An approval: by whom and when."""

    by: str
    on: dt.date


@dataclass(frozen=True)
class Document:
    """Data of the title block of every document; values that are not stated are empty or None."""

    job: str = ""
    client: str = ""
    site_address: tuple[str, ...] = ()
    owner: str = ""
    prepared_by: str = ""
    status: AskedStatus = "draft"
    issued_on: dt.date | None = None
    check: DesignCheck | None = None
    approval: Approval | None = None
    revisions: tuple[Revision, ...] = ()
