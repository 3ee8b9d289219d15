"""Rules between the tables of document control."""

from __future__ import annotations

import re
from itertools import pairwise

from heatloop.survey.documents.document import Document
from heatloop.survey.files.fields import DATE_UNREAD
from heatloop.survey.files.validation import IssueCollector

HASH = re.compile(r"[0-9a-f]{12,64}")


def check_document(document: Document, findings: IssueCollector) -> None:
    """Report repeated revision marks, dates out of order, and an invalid design hash."""
    seen: set[str] = set()
    for index, revision in enumerate(document.revisions):
        if revision.mark and revision.mark in seen:
            findings.add(("document", "revision", index, "mark"), f'"{revision.mark}" again', "a mark of its own")
        seen.add(revision.mark)
    dated = [(index, entry.on) for index, entry in enumerate(document.revisions) if entry.on != DATE_UNREAD]
    for (_, before), (index, after) in pairwise(dated):
        if after < before:
            found = f"{after.isoformat()} after {before.isoformat()}"
            findings.add(("document", "revision", index, "on"), found, "dates that do not run backwards")
    check, approval = document.check, document.approval
    if check is not None and check.design and not HASH.fullmatch(check.design):
        required = "the design hash that documents print: 12 to 64 of the digits 0 to 9 and a to f"
        findings.add(("document", "check", "design"), f'"{check.design}"', required)
    if check is None or approval is None or DATE_UNREAD in (check.on, approval.on):
        return
    if approval.on < check.on:
        found = f"{approval.on.isoformat()}, before the check on {check.on.isoformat()}"
        findings.add(("document", "approval", "on"), found, "the day of the check or a later day")
