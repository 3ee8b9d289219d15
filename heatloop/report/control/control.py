"""Document control of a job: identification, signatures, status and hashes, all as printed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from heatloop.findings.verdict import Verdict
from heatloop.report.control.document_types import DOCUMENT_TYPES, NO_REVISION, file_name_text, identification_text
from heatloop.report.control.hashes import (
    SHOWN_DIGITS,
    InputFiles,
    design_hash,
    input_files,
    package_version,
    plain_text_bytes,
)
from heatloop.survey.documents.document import Document, Revision
from heatloop.survey.survey import SurveyData

NOT_FOR_CONSTRUCTION = "NOT FOR CONSTRUCTION"

NOT_CHECKED = "not checked by a second person"

OUT_OF_DATE = "check out of date"

SELF_CHECKED = "self-checked"

NOT_APPROVED = "not approved"

NOT_SIGNED: Mapping[str, str] = {
    NOT_CHECKED: "the calculation has not yet been checked by a second person",
    OUT_OF_DATE: "the present calculation has not yet been checked by a second person (check out of date)",
    SELF_CHECKED: "the calculation has not yet been checked by a person other than its author",
    NOT_APPROVED: "the design has not yet been approved",
}
"""The signature that is missing, by the reason why documents are not for construction."""


@dataclass(frozen=True)
class DocumentControl:
    """Identification and signatures of the documents of one design.

    Texts are as printed, and empty where the survey states nothing. `status`: the printed status. `reason`: the first
    reason why the documents are not for construction; empty if they are. `checked_by` and `approved_by` contain a name
    only where this design was signed. `cautions`: problems of the signatures. `headline` and `state`: those of the
    verdict of the design.
    """

    project: str
    document: Document
    headline: str
    state: str
    status: str
    reason: str
    checked_by: str
    approved_by: str
    cautions: tuple[str, ...]
    issued_on: dt.date
    made_on: dt.date
    version: str
    inputs: InputFiles
    design_sha256: str

    @property
    def revision(self) -> str:
        """Mark of the current revision; a hyphen where none was issued."""
        return self.revisions[-1].mark if self.revisions else NO_REVISION

    @property
    def revisions(self) -> tuple[Revision, ...]:
        """The issues, oldest first."""
        return self.document.revisions

    @property
    def input_hash(self) -> str:
        """The input hash as printed; empty where there are no files."""
        return self.inputs.sha256[:SHOWN_DIGITS]

    @property
    def design_hash(self) -> str:
        """Design hash as printed, for `[document.check]`."""
        return self.design_sha256[:SHOWN_DIGITS]

    @property
    def is_for_construction(self) -> bool:
        """Whether the documents may be used for construction."""
        return not self.reason

    @property
    def warning(self) -> str:
        """Sentence on every document that is not for construction; empty otherwise."""
        words = NOT_SIGNED.get(self.reason, self.reason)
        return f"{NOT_FOR_CONSTRUCTION}: {words}" if words else ""

    def identification(self, code: str, number: int = 1) -> str:
        """Identification of a document by its type and number; KeyError for an unknown type."""
        return identification_text(self.document.job, self.project, DOCUMENT_TYPES[code].code, number)

    def file_name(self, code: str, extension: str, number: int = 1, words: str | None = None) -> str:
        """File name of a document; `words` replace those of its type. KeyError for an unknown type."""
        kind = DOCUMENT_TYPES[code]
        return file_name_text(self.identification(code, number), self.revision, words or kind.words, extension)


def document_control(
    survey: SurveyData,
    verdict: Verdict | None,
    *,
    made_on: dt.date | None = None,
    prices: Path | None = None,
    treatment_rules: Path | None = None,
) -> DocumentControl:
    """The control value of a design by its survey and verdict.

    `made_on` is the day of making, today where it is not given; files beside survey and catalogue enter the input
    hash. OSError or UnusableFile where one of them cannot be read.
    """
    document = survey.document
    made = made_on or dt.date.today()
    rules = None if treatment_rules is None else plain_text_bytes(treatment_rules)
    digest = design_hash(survey, rules)
    more: Mapping[str, Path | None] = {"prices": prices, "treatment rules": treatment_rules}
    current = _is_current(document, digest)
    reason = _reason(document, verdict, current)
    status = document.status
    return DocumentControl(
        project=survey.project.name,
        document=document,
        headline="" if verdict is None else verdict.headline,
        state="" if verdict is None else verdict.state,
        status=NOT_FOR_CONSTRUCTION if status == "for construction" and reason else status.capitalize(),
        reason=reason,
        checked_by=_checked_by(document, current),
        approved_by=_approved_by(document, current),
        cautions=tuple(_cautions(document, digest, current)),
        issued_on=document.issued_on or made,
        made_on=made,
        version=package_version(),
        inputs=input_files(survey, {role: path for role, path in more.items() if path is not None}),
        design_sha256=digest,
    )


def _is_current(document: Document, digest: str) -> bool:
    """Whether this design is the one that was checked."""
    return document.check is not None and digest.startswith(document.check.design)


def _is_own(document: Document) -> bool:
    """Whether the author of the documents checked them."""
    check = document.check
    return check is not None and check.by.strip().casefold() == document.prepared_by.strip().casefold()


def _reason(document: Document, verdict: Verdict | None, current: bool) -> str:
    """First reason why the documents are not for construction; empty where they are."""
    if document.status == "as built":
        return ""
    if verdict is None:
        return "the design was not judged"
    if verdict.state == "not ready":
        return verdict.headline.removeprefix("Not ready for installation: ").rstrip(".")
    if document.check is None:
        return NOT_CHECKED
    if not current:
        return OUT_OF_DATE
    if _is_own(document):
        return SELF_CHECKED
    if document.approval is None:
        return NOT_APPROVED
    return "" if document.status == "for construction" else f"status is {document.status}"


def _checked_by(document: Document, current: bool) -> str:
    check = document.check
    if check is None:
        return ""
    if not current:
        return OUT_OF_DATE
    return SELF_CHECKED if _is_own(document) else f"{check.by}, {check.on.isoformat()}"


def _approved_by(document: Document, current: bool) -> str:
    """Name of the approver; an approval is valid only for the design that was checked."""
    approval = document.approval
    if approval is None:
        return ""
    if document.check is None:
        return "approval without a check"
    return f"{approval.by}, {approval.on.isoformat()}" if current else "approval out of date"


def _cautions(document: Document, digest: str, current: bool) -> list[str]:
    check = document.check
    cautions = []
    if check is not None and not current:
        signed = "the check and the approval" if document.approval is not None else "the check"
        cautions.append(
            f"{OUT_OF_DATE}: {signed} hold for design {check.design[:SHOWN_DIGITS]}, and this is design "
            f"{digest[:SHOWN_DIGITS]}"
        )
    if check is not None and _is_own(document):
        cautions.append(f"{SELF_CHECKED}: {check.by} made the documents and checked them; a check takes another person")
    if check is None and document.approval is not None:
        cautions.append("approval without a check: an approval holds for the design that was checked")
    return cautions
