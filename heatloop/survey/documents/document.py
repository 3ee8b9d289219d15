"""Who made, checked and approved the documents of a job, and what they are called: values of the survey.

Nothing here changes a design. What first fix needs beside the layout is in
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
    """What the title block of every document states of the job; what is not stated is empty or None."""

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
