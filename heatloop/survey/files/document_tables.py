"""The tables of a survey file that documents and drawings read: `[document]`, `[first_fix]` and `[quotation]`."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, get_args

from pydantic import Field

from heatloop.survey.documents.document import Approval, AskedStatus, DesignCheck, Document, Revision
from heatloop.survey.documents.first_fix import FirstFixBasis, OpeningFor
from heatloop.survey.documents.quotation import QuotationTerms
from heatloop.survey.files.fields import (
    ChoiceField,
    DateField,
    FileTable,
    IntegerField,
    ListField,
    NumberField,
    TextField,
)

MAX_CHARACTERS = 60
"""A text of a title block has at most so many characters: a longer one has no room there."""

Words = Annotated[str, TextField("a text", empty=True, maximum=MAX_CHARACTERS)]
Person = Annotated[str, TextField("a name", maximum=MAX_CHARACTERS)]
Sentence = Annotated[str, TextField("a sentence", maximum=400)]
Day = Annotated[dt.date, DateField()]
Finish = Annotated[float, NumberField("millimetres", minimum=0, maximum=150)]


class RevisionTable(FileTable):
    """One issue of the documents, oldest first; the last one is current."""

    mark: Annotated[str, TextField("a mark", maximum=6)] = Field(description="mark as printed, for example P01")
    on: Day = Field(description="date of this issue")
    words: Words = Field(default=Revision.words, description="description of the changes")

    def value(self) -> Revision:
        return Revision(**dict(self))


class DesignCheckTable(FileTable):
    """The check of the design by another person."""

    by: Person = Field(description="name of the person who checked")
    on: Day = Field(description="date of the check")
    design: Annotated[str, TextField("a design hash", maximum=64)] = Field(
        description="design hash that was checked: 12 or more hexadecimal digits, as documents print it"
    )

    def value(self) -> DesignCheck:
        return DesignCheck(**dict(self))


class ApprovalTable(FileTable):
    """The approval of the design."""

    by: Person = Field(description="name of the person who approved")
    on: Day = Field(description="date of the approval")

    def value(self) -> Approval:
        return Approval(**dict(self))


class DocumentTable(FileTable):
    """The contents of title blocks. These keys do not change the design and are not part of the design hash."""

    job: Annotated[str, TextField("a job number", empty=True, maximum=24)] = Field(
        default=Document.job, description="first part of every identification; if not given, the name of the project"
    )
    client: Words = Field(default=Document.client, description="client for whom the work is done")
    site_address: Annotated[list[Words], ListField("lines of the address", 0, 4)] = Field(
        default_factory=list, description="address of the site, line by line"
    )
    owner: Words = Field(default=Document.owner, description="legal owner of the documents")
    prepared_by: Words = Field(default=Document.prepared_by, description="author of the documents")
    status: Annotated[AskedStatus, ChoiceField(get_args(AskedStatus))] = Field(
        default=Document.status,
        description='`"for construction"` is printed only with a valid check, an approval and a design that is ready',
    )
    issued_on: Day | None = Field(
        default=None, description="date of issue; if not given, the day on which the document is made"
    )
    check: DesignCheckTable | None = Field(default=None, description="check of the design by another person")
    approval: ApprovalTable | None = Field(default=None, description="approval of the design")
    revision: Annotated[list[RevisionTable], ListField("revisions", 0, 50)] = Field(
        default_factory=list, description="issues, oldest first"
    )

    def value(self) -> Document:
        values = {name: value for name, value in dict(self).items() if name != "revision"}
        values["site_address"] = tuple(self.site_address)
        values["check"] = self.check.value() if self.check else None
        values["approval"] = self.approval.value() if self.approval else None
        return Document(**values, revisions=tuple(item.value() for item in self.revision))


class FirstFixTable(FileTable):
    """Data of the site for first fix."""

    wall_finish_mm: Finish | None = Field(
        default=None,
        description="thickness of finish that is added to the walls after first fix; if not given, drawings have a "
        "blank to fill in",
    )
    floor_finish_mm: Finish | None = Field(
        default=None,
        description="thickness of finish that is added to the floors after first fix; if not given, drawings have a "
        "blank to fill in",
    )
    bore_reach_mm: Annotated[float, NumberField("millimetres", minimum=0, maximum=200)] = Field(
        default=FirstFixBasis.bore_reach_mm,
        description="minimum distance from the edge of a hole to a wall or corner at which it can be bored",
    )
    opening: Annotated[OpeningFor, ChoiceField(get_args(OpeningFor))] = Field(
        default=FirstFixBasis.opening,
        description="whether openings in floors take the bare pipe or the pipe with its insulation",
    )

    def value(self) -> FirstFixBasis:
        return FirstFixBasis(**dict(self))


class QuotationTable(FileTable):
    """The terms of the quotation. These keys do not change the design and are not part of the design hash."""

    markup_percent: Annotated[float, NumberField("per cent", minimum=0, maximum=500)] = Field(
        default=QuotationTerms.markup_percent, description="percentage that is added to the cost of parts"
    )
    labour_rate_h: Annotated[float, NumberField("currency per hour", above=0, maximum=10_000)] | None = Field(
        default=None, description="price of an hour of labour; if not given, labour is stated in hours"
    )
    tax_percent: Annotated[float, NumberField("per cent", minimum=0, maximum=100)] | None = Field(
        default=None, description="tax on the total; if not given, the total is before tax"
    )
    valid_days: Annotated[int, IntegerField("days", maximum=3650)] | None = Field(
        default=None, description="number of days from the date of issue for which the quotation is valid"
    )
    exclusions: Annotated[list[Sentence], ListField("sentences", 0, 40)] = Field(
        default_factory=list, description="exclusions, one sentence each"
    )
    terms: Annotated[list[Sentence], ListField("sentences", 0, 40)] = Field(
        default_factory=list, description="terms of the quotation, one sentence each"
    )

    def value(self) -> QuotationTerms:
        return QuotationTerms(**{**dict(self), "exclusions": tuple(self.exclusions), "terms": tuple(self.terms)})
