"""Document control: names, hashes, signatures bound to the design, the title block and the register."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.findings.verdict import Verdict
from heatloop.report.control.control import DocumentControl, document_control
from heatloop.report.control.document_types import DOCUMENT_TYPES, ascii_words
from heatloop.report.control.hashes import design_hash, input_files
from heatloop.report.control.references import RELIES_ON, references
from heatloop.report.control.register import RegisteredFile, write_register
from heatloop.report.control.title_block import (
    ROWS,
    DocumentSheet,
    block_fields,
    running_line,
    title_block_css,
    title_block_html,
)
from heatloop.survey.documents.document import Approval, DesignCheck, Document, Revision
from heatloop.survey.survey import SurveyData
from tests.helpers.paths import DATA

COLD = "Hall receives 85 W less than its heat loss plus back loss"
READY = Verdict("ready", "All limits are met.", (), (), ("design",))
SHORT = Verdict(
    "not ready",
    "Not ready for installation: Hall receives 85 W less than its heat loss plus back loss.",
    (),
    (),
    ("design",),
)
DAY = dt.date(2026, 11, 29)
CHECKED = dt.date(2026, 11, 30)


@pytest.fixture(scope="module")
def survey() -> SurveyData:
    return hl.read_survey(DATA / "mill-annexe" / "survey.toml")


def _with(survey: SurveyData, **changes: object) -> SurveyData:
    return replace(survey, document=replace(survey.document, **changes))  # type: ignore[arg-type]


def _signed(survey: SurveyData, **changes: object) -> SurveyData:
    """The survey, for construction, checked and approved as it is."""
    given: dict[str, object] = {
        "status": "for construction",
        "prepared_by": "A. Draughter",
        "check": DesignCheck("B. Checker", CHECKED, design_hash(survey)[:12]),
        "approval": Approval("C. Approver", CHECKED),
        **changes,
    }
    return _with(survey, **given)


def _control(survey: SurveyData, verdict: Verdict | None = READY) -> DocumentControl:
    return document_control(survey, verdict, made_on=DAY)


# --- Signatures ------------------------------------------------------------------------------------------


def test_a_design_with_cautions_that_nobody_checked_is_not_for_construction(survey: SurveyData) -> None:
    cautions = "No check fails; resolve 4 cautions before installation."
    careful = _control(survey, Verdict("ready with cautions", cautions, (), (), ("design",)))
    assert careful.headline == cautions
    assert careful.warning == _control(survey).warning
    assert careful.warning == ("NOT FOR CONSTRUCTION: the calculation has not yet been checked by a second person")


def test_a_design_that_is_ready_checked_and_approved_is_for_construction(survey: SurveyData) -> None:
    control = _control(_signed(survey))
    assert (control.status, control.reason, control.warning) == ("For construction", "", "")
    assert control.checked_by == "B. Checker, 2026-11-30"
    assert control.approved_by == "C. Approver, 2026-11-30"
    assert control.cautions == ()


@pytest.mark.parametrize(
    ("changes", "verdict", "reason", "warning"),
    [
        ({}, SHORT, COLD, f": {COLD}"),
        (
            {"check": None},
            READY,
            "not checked by a second person",
            ": the calculation has not yet been checked by a second person",
        ),
        ({"check": None}, SHORT, COLD, f": {COLD}"),  # the first reason of two
        (
            {"check": DesignCheck("B. Checker", CHECKED, "0" * 12)},
            READY,
            "check out of date",
            ": the present calculation has not yet been checked by a second person (check out of date)",
        ),
        (
            {"prepared_by": "b. checker "},
            READY,
            "self-checked",
            ": the calculation has not yet been checked by a person other than its author",
        ),
        ({"approval": None}, READY, "not approved", ": the design has not yet been approved"),
        ({}, None, "the design was not judged", ": the design was not judged"),
    ],
)
def test_for_construction_takes_verdict_check_and_approval(
    survey: SurveyData, changes: dict, verdict: Verdict | None, reason: str, warning: str
) -> None:
    control = _control(_signed(survey, **changes), verdict)
    assert control.status == "NOT FOR CONSTRUCTION"
    assert control.reason == reason
    assert control.warning == f"NOT FOR CONSTRUCTION{warning}"


def test_a_status_that_is_asked_is_printed_and_never_raised(survey: SurveyData) -> None:
    for asked, printed in (("draft", "Draft"), ("for comment", "For comment"), ("withdrawn", "Withdrawn")):
        control = _control(_signed(survey, status=asked))
        assert (control.status, control.reason) == (printed, f"status is {asked}")
    built = _control(_signed(survey, status="as built", check=None), SHORT)
    assert (built.status, built.warning) == ("As built", "")


def test_a_signature_does_not_change_what_was_signed(survey: SurveyData) -> None:
    revisions = (Revision("P01", DAY, "first issue"),)
    for changed in (_signed(survey), _with(survey, revisions=revisions, client="M. Sample", job="24-117")):
        assert design_hash(changed) == design_hash(survey)


def test_a_signature_cannot_outlive_the_design(survey: SurveyData) -> None:
    signed = _signed(survey)
    rooms = (replace(signed.rooms[0], indoor_c=signed.rooms[0].indoor_c + 0.1), *signed.rooms[1:])
    joints = tuple(replace(one, cut_deduction_mm=one.cut_deduction_mm + 1.0) for one in signed.catalogue.joints)
    for changed in (
        replace(signed, rooms=rooms),
        signed.with_flow_temp(signed.project.flow_temp_c - 1.0),
        replace(signed, catalogue=replace(signed.catalogue, joints=joints)),
        replace(signed, first_fix=replace(signed.first_fix, wall_finish_mm=13.0)),
    ):
        control = _control(changed)
        assert control.status == "NOT FOR CONSTRUCTION"
        assert control.checked_by == "check out of date"
        assert control.approved_by == "approval out of date"
        assert "B. Checker" not in title_block_html(control, DocumentSheet("FF"))
        (caution,) = control.cautions
        assert control.design_hash in caution


def test_an_approval_without_a_check_and_a_check_by_oneself_are_cautions(survey: SurveyData) -> None:
    control = _control(_signed(survey, check=None))
    assert control.approved_by == "approval without a check"
    assert len(control.cautions) == 1
    own = _control(_signed(survey, prepared_by="B. Checker"))
    assert own.checked_by == "self-checked"
    assert "takes another person" in own.cautions[0]


# --- Hashes ------------------------------------------------------------------------------------------------


def _copied(folder: Path) -> Path:
    shutil.copytree(DATA / "mill-annexe", folder)
    return folder / "survey.toml"


def test_the_input_hash_is_of_role_length_and_text(tmp_path: Path) -> None:
    path = _copied(tmp_path / "job")
    found = input_files(hl.read_survey(path))
    told = b""
    for role in ("survey", "catalogue"):
        text = (path.parent / f"{role}.toml").read_bytes()
        told += role.encode() + b"\0" + str(len(text)).encode() + b"\0" + text
    assert found.sha256 == hashlib.sha256(told).hexdigest()
    assert [(one.role, one.name) for one in found.files] == [("survey", "survey.toml"), ("catalogue", "catalogue.toml")]


def test_line_ends_and_byte_order_mark_change_no_hash(tmp_path: Path) -> None:
    path = _copied(tmp_path / "job")
    before = hl.read_survey(path)
    hashes = input_files(before).sha256, design_hash(before)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    after = hl.read_survey(path)
    assert (input_files(after).sha256, design_hash(after)) == hashes


def test_a_comment_and_another_way_to_write_a_number_change_the_input_hash_alone(tmp_path: Path) -> None:
    path = _copied(tmp_path / "job")
    before = hl.read_survey(path)
    hashes = input_files(before).sha256, design_hash(before)
    text = path.read_text(encoding="utf-8")
    assert "length_m = 3.80" in text
    path.write_text(text.replace("length_m = 3.80", "length_m = 3.800000") + "\n# seen\n", encoding="utf-8")
    after = hl.read_survey(path)
    assert input_files(after).sha256 != hashes[0]
    assert design_hash(after) == hashes[1]


def test_a_survey_changed_in_memory_has_no_input_hash(survey: SurveyData) -> None:
    assert input_files(survey.with_flow_temp(survey.project.flow_temp_c - 1.0)).sha256 == ""
    assert input_files(replace(survey, path=None)).sha256 == ""
    fields = block_fields(_control(replace(survey, path=None)), DocumentSheet("FF"))
    assert fields["input"].value == "–"
    assert len(fields["design"].value) == 12


def test_prices_and_rules_enter_the_hashes_they_belong_to(survey: SurveyData, tmp_path: Path) -> None:
    prices, rules = tmp_path / "prices.csv", tmp_path / "rules.toml"
    prices.write_text("item,price\n", encoding="utf-8")
    rules.write_text("# none\n", encoding="utf-8")
    plain = _control(survey)
    priced = document_control(survey, READY, made_on=DAY, prices=prices)
    assert priced.input_hash != plain.input_hash
    assert priced.design_hash == plain.design_hash
    ruled = document_control(survey, READY, made_on=DAY, treatment_rules=rules)
    assert ruled.design_hash != plain.design_hash


# --- Names --------------------------------------------------------------------------------------------------


def test_identifications_and_file_names(survey: SurveyData) -> None:
    control = _control(_with(survey, job="24-117", revisions=(Revision("P01", DAY), Revision("P02", DAY))))
    assert control.identification("FF") == "24-117-FF-01"
    assert control.file_name("FF", "pdf") == "24-117-FF-01_P02_first-fix.pdf"
    assert control.file_name("DX", "dxf", 2, "Ground floor") == "24-117-DX-02_P02_ground-floor.dxf"
    bare = _control(survey)
    assert bare.identification("CS") == f"{ascii_words(survey.project.name)}-CS-01"
    assert bare.revision == "-"
    with pytest.raises(KeyError):
        control.identification("ZZ")


@pytest.mark.parametrize("name", ["Überlingen/2", "../../etc", "a\tb\nc", "…", "Ärger & Söhne"])
def test_file_names_hold_nothing_that_a_folder_cannot(survey: SurveyData, name: str) -> None:
    control = _control(replace(survey, project=replace(survey.project, name=name)))
    for code in DOCUMENT_TYPES:
        found = control.file_name(code, "pdf")
        assert found.isascii()
        assert not set(found) & set('/\\:*?"<>| \t\n')
        assert not found.startswith((".", "-"))


# --- Title block ---------------------------------------------------------------------------------------------


def test_every_field_stands_in_the_block_and_an_empty_one_prints_a_dash(survey: SurveyData) -> None:
    control = _control(replace(survey, document=Document()))
    sheet = DocumentSheet("FF", sheet=2, of=3, scale="1:50")
    fields = block_fields(control, sheet)
    assert {key for row in ROWS for key in row} == set(fields)
    html = title_block_html(control, sheet)
    for field in fields.values():
        value = f"<h1>{field.value}</h1>" if field.key == "title" else field.value
        assert f"<dt>{field.name}</dt><dd>{value}</dd>" in html
    assert fields["owner"].value == fields["approved"].value == "–"
    assert (fields["sheet"].value, fields["scale"].value) == ("2 / 3", "1:50")
    assert control.warning in html


def test_texts_of_a_survey_are_escaped_in_the_block(survey: SurveyData) -> None:
    control = _control(_with(survey, client="<b>& Sons</b>"))
    html = title_block_html(control, DocumentSheet("CL"))
    assert "<b>" not in html
    assert "&lt;b&gt;&amp; Sons" in html


def test_the_running_line_and_the_style_sheet(survey: SurveyData) -> None:
    control = _control(_with(survey, job="24-117"))
    line = running_line(control, DocumentSheet("CS"))
    assert line.startswith("24-117-CS-01 · ")
    assert control.input_hash in line
    for key in ("title-block", "title-row", "title-field", "title-warning"):
        assert f".{key}" in title_block_css()


# --- Register -----------------------------------------------------------------------------------------------


def test_the_register_lists_every_file_and_differs_by_the_day_alone(survey: SurveyData, tmp_path: Path) -> None:
    folder = tmp_path / "issue"
    folder.mkdir()
    (folder / "a.pdf").write_bytes(b"one")
    (folder / "b.csv").write_bytes(b"")
    signed = _signed(survey, job="24-117", issued_on=dt.date(2026, 12, 1))
    files = [RegisteredFile("b.csv"), RegisteredFile("a.pdf", "24-117-FF-01")]
    written = write_register(_control(signed), folder, files)
    first = written.read_bytes()
    assert write_register(_control(signed), folder, files).read_bytes() == first
    later = document_control(signed, READY, made_on=DAY + dt.timedelta(days=3))
    other = json.loads(write_register(later, folder, files).read_text(encoding="utf-8"))
    held = json.loads(first)
    assert {key for key in held if held[key] != other[key]} == {"made_on"}
    assert held["files"][0] == {
        "name": "a.pdf", "identification": "24-117-FF-01", "bytes": 3, "sha256": hashlib.sha256(b"one").hexdigest(),
    }  # fmt: skip
    assert held["for_construction"] is True
    assert held["design_sha256"] == design_hash(survey)
    assert {one["role"] for one in held["inputs"]} == set()  # a survey signed in memory is not its file
    assert set(held["libraries"]) == {"numpy", "scipy", "CoolProp"}


def test_a_document_names_those_that_it_relies_on(alder_lodge: hl.Design) -> None:
    document = replace(alder_lodge.survey.document, job="24-117")
    control = document_control(replace(alder_lodge.survey, document=document), alder_lodge.verdict)
    assert references(control, "SF") == (
        "See first fix 24-117-FF-01 (positions of the pipes) and order and cut list 24-117-OL-01 (from which bar a "
        "piece is cut)."
    )
    assert references(control, "QU") == ""
    assert {code for code, others in RELIES_ON.items() for code in (code, *dict(others))} <= set(DOCUMENT_TYPES)
