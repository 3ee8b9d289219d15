"""The files of an issue in their folders: the documents for each reader, and the reasons for those not written.

Each document is imported where it is written, because documents and drawings are slow to import and an issue for one
reader contains few of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from heatloop.report.columns.registry import table_description
from heatloop.report.control.control import DocumentControl
from heatloop.report.control.document_types import DOCUMENT_TYPES
from heatloop.report.control.register import RegisteredFile, write_register
from heatloop.report.control.title_block import DocumentSheet, running_line
from heatloop.report.documents.index_page import IssuedFile, index_page
from heatloop.report.files.export import JSON, write_csv, write_json
from heatloop.results.design import DesignResult

if TYPE_CHECKING:
    from heatloop.handover.commissioning.pack import CommissioningResult
    from heatloop.handover.first_fix.plan import FirstFixResult
    from heatloop.handover.parts.parts_list import PartsListResult
    from heatloop.handover.quotation import Quotation
    from heatloop.report.documents.interactive_plan.page import PlanContents

Audience = Literal["client", "fitter", "order", "check"]

AUDIENCES: tuple[Audience, ...] = get_args(Audience)

INDEX = "index.html"

NO_PIECES = "no piece has been surveyed"
NO_PRICES = "no prices given"


@dataclass(frozen=True)
class Release:
    """A design with the handover results that its readers require, and the control of its documents."""

    design: DesignResult
    control: DocumentControl
    pack: CommissioningResult
    parts: PartsListResult | None = None
    first_fix: FirstFixResult | None = None
    quotation: Quotation | None = None
    plan: PlanContents | None = None


@dataclass
class Writer:
    """Writes documents into a folder and records which were written and which were left out."""

    folder: Path
    control: DocumentControl
    pdf: bool
    files: list[IssuedFile] = field(default_factory=list)
    left_out: list[tuple[str, str]] = field(default_factory=list)

    def page(self, code: str, audience: str, markup: str, priced_words: str | None = None, paper: bool = True) -> Path:
        """Write a page, and its PDF where one is requested and the page is for `paper`.

        `priced_words`: words of the file name of the version with prices; the title then states the prices too.
        """
        name = self.control.file_name(code, "html", words=priced_words)
        path = self._place(audience, name)
        path.write_text(markup, encoding="utf-8")
        title = DOCUMENT_TYPES[code].title + (", with prices" if priced_words else "")
        self.add(f"{audience}/{name}", title, self.control.identification(code))
        if self.pdf and paper:
            from heatloop.report.files.pdf import print_pdf

            printed = print_pdf(path, path.with_suffix(".pdf"))
            self.add(f"{audience}/{printed.name}", f"{title}, PDF", self.control.identification(code))
        return path

    def add(self, name: str, title: str, identification: str = "") -> None:
        """Record a written file."""
        self.files.append(IssuedFile(name, title, identification, (self.folder / name).stat().st_size))

    def foot(self, code: str) -> str:
        """The line at the foot of the pages of a document."""
        return running_line(self.control, DocumentSheet(code))

    def leave_out(self, code: str, reason: str) -> None:
        """Record why a document is not written."""
        self.left_out.append((DOCUMENT_TYPES[code].title, reason))

    def _place(self, audience: str, name: str) -> Path:
        place = self.folder / audience
        place.mkdir(exist_ok=True)
        return place / name


def documents(release: Release, audience: Audience | None) -> Iterator[tuple[str, Callable[[Writer], None]]]:
    """The documents of an issue, all or those of one reader: name and writer of each."""
    makers: tuple[tuple[Audience, str, Callable[[Release, Writer], None]], ...] = (
        ("client", "client summary", _client_summary),
        ("client", "quotation", _quotation),
        ("client", "user guide", _user_guide),
        ("check" if audience == "check" else "client", "interactive plan", _interactive_plan(audience)),
        ("fitter", "first fix", _first_fix),
        ("fitter", "second fix and labels", _second_fix),
        ("fitter", "commissioning sheet", _commissioning),
        ("fitter", "fitter pack", _fitter_pack),
        ("order", "order and cut list", _order),
        ("check", "workbook", _workbook),
    )
    for reader, words, maker in makers:
        if audience in (None, reader):
            yield words, lambda writer, maker=maker: maker(release, writer)  # type: ignore[misc]
    if audience in (None, "check"):
        yield "tables and figures", lambda writer: _data(release, writer)


def finish(release: Release, writer: Writer) -> None:
    """Write the register and the index, which name all other files."""
    index = writer.folder / INDEX
    ordered = sorted(writer.files, key=lambda file: [*AUDIENCES, "data"].index(file.folder))
    index.write_text(index_page(release.control, release.design.verdict, ordered, writer.left_out), encoding="utf-8")
    registered = [RegisteredFile(file.name, file.identification) for file in writer.files]
    write_register(release.control, writer.folder, [*registered, RegisteredFile(INDEX)])


def _client_summary(release: Release, writer: Writer) -> None:
    from heatloop.report.documents.client_summary import client_summary

    writer.page("CL", "client", client_summary(release.design, release.pack, release.control))


def _quotation(release: Release, writer: Writer) -> None:
    if release.quotation is None:
        writer.leave_out("QU", NO_PRICES)
        return
    from heatloop.handover.offer import offer_from
    from heatloop.report.documents.quotation import quotation_document

    offer = offer_from(release.quotation, release.design.survey.quotation, release.control.issued_on)
    writer.page("QU", "client", quotation_document(release.design, offer, release.control))


def _user_guide(release: Release, writer: Writer) -> None:
    from heatloop.report.documents.user_guide import user_guide

    writer.page("UG", "client", user_guide(release.pack, release.control))


def _interactive_plan(audience: Audience | None) -> Callable[[Release, Writer], None]:
    """The plan is for the client and the engineer: an issue for the engineer alone has it among his documents."""

    def write(release: Release, writer: Writer) -> None:
        if release.plan is None:
            writer.leave_out("PL", "no room has been surveyed")
            return
        from heatloop.report.documents.interactive_plan.page import interactive_plan

        folder = "check" if audience == "check" else "client"
        writer.page("PL", folder, interactive_plan(release.design, release.plan, release.control), paper=False)

    return write


def _first_fix(release: Release, writer: Writer) -> None:
    from heatloop.report.files.first_fix_drawings import write_first_fix

    place = writer.folder / "fitter"
    place.mkdir(exist_ok=True)
    written = () if release.first_fix is None else write_first_fix(release.first_fix, release.control, place)
    if not written:
        writer.leave_out("FF", "no pipe has a place that is known")
    for file in written:
        kind = "DX" if file.name.endswith(".dxf") else "FF"
        title = ", ".join(filter(None, (DOCUMENT_TYPES[kind].title, file.part)))
        writer.add(f"fitter/{file.name}", title, file.identification)


def _second_fix(release: Release, writer: Writer) -> None:
    if release.parts is None or release.parts.frames["pieces"].empty:
        writer.leave_out("SF", NO_PIECES)
        writer.leave_out("LB", NO_PIECES)
        return
    from heatloop.report.documents.labels import label_sheet
    from heatloop.report.documents.second_fix import second_fix

    writer.page("SF", "fitter", second_fix(release.design, release.parts, release.control))
    writer.page("LB", "fitter", label_sheet(release.parts, release.control))


def _commissioning(release: Release, writer: Writer) -> None:
    from heatloop.report.documents.commissioning_sheet import commissioning_sheet

    writer.page("CS", "fitter", commissioning_sheet(release.pack, release.control))


def _fitter_pack(release: Release, writer: Writer) -> None:
    if release.parts is None:
        return
    from heatloop.report.documents.fitter_pack import fitter_pack
    from heatloop.report.drawings.first_fix_sheets import first_fix_sheets
    from heatloop.report.drawings.writers.sheet_svg import sheet_svg
    from heatloop.report.pages.html_tables import HtmlFragment

    sheets = () if release.first_fix is None else first_fix_sheets(release.first_fix, release.control)
    drawings = [HtmlFragment(sheet_svg(sheet)) for sheet in sheets]
    writer.page("FP", "fitter", fitter_pack(release.design, release.parts, release.pack, drawings, release.control))


def _order(release: Release, writer: Writer) -> None:
    if release.parts is None:
        return
    from heatloop.report.documents.order import order_and_cut_list

    writer.page("OL", "order", order_and_cut_list(release.parts, release.control))
    if release.quotation is not None:
        priced = order_and_cut_list(release.parts, release.control, release.quotation)
        writer.page("OP", "order", priced)
    names = [name for name in ("parts", "cuts", "pieces") if not release.parts.frames[name].empty]
    for path in write_csv(writer.folder / "order", {name: release.parts.frames[name] for name in names}):
        writer.add(f"order/{path.name}", f"{table_description(path.stem).title}, table, CSV")


def _workbook(release: Release, writer: Writer) -> None:
    from heatloop.report.workbook.book import HandedOver, write_workbook

    name = release.control.file_name("WB", "xlsx")
    (writer.folder / "check").mkdir(exist_ok=True)
    write_workbook(
        writer.folder / "check" / name, release.design, release.control,
        HandedOver(release.parts, release.first_fix, release.pack, release.quotation),
    )  # fmt: skip
    writer.add(f"check/{name}", DOCUMENT_TYPES["WB"].title, release.control.identification("WB"))


def _data(release: Release, writer: Writer) -> None:
    from heatloop.report.files.write_all import all_tables, design_json

    place = writer.folder / "data"
    place.mkdir(exist_ok=True)
    control = release.control
    answers = design_json(release.design, release.parts, release.first_fix, release.pack)
    answers["verdict"] = {"state": control.state, "headline": control.headline}
    answers["control"] = {"identification": control.identification("DR"), "revision": control.revision,
                          "status": control.status, "issued_on": control.issued_on.isoformat()}  # fmt: skip
    answers["hashes"] = {"input": control.inputs.sha256, "design": control.design_sha256}
    write_json(place / JSON, answers)
    writer.add(f"data/{JSON}", "All results, JSON")
    for path in write_csv(place, all_tables(release.design, release.parts, release.first_fix, release.pack)):
        writer.add(f"data/{path.name}", f"{table_description(path.stem).title}, table, CSV")
