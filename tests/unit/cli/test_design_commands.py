"""Every command that designs prints the same verdict and ends with the same status."""

from __future__ import annotations

import html
from pathlib import Path

import pytest

import heatloop as hl
from heatloop import __main__ as cli
from heatloop.report.control.control import document_control
from heatloop.survey.starter_files import start_files
from tests.helpers.paths import DATA

PRICES = DATA / "alder-lodge" / "prices.csv"


@pytest.fixture(params=["ready", pytest.param("ready with cautions", marks=pytest.mark.long), "not ready"])
def survey(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """The starter survey as it is, without its inhibitor, and with cooler water."""
    start_files(tmp_path / "job")
    path = tmp_path / "job" / "survey.toml"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    if request.param == "ready with cautions":
        lines = [line for line in lines if not line.startswith("inhibitor = ")]
    text = "".join(lines)
    if request.param == "not ready":
        text = text.replace("flow_temp_c = 50.0", "flow_temp_c = 43.0")
    path.write_text(text, encoding="utf-8")
    assert hl.size(path).verdict.state == request.param
    return path


def test_all_commands_print_one_verdict_and_end_with_one_status(
    survey: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    verdict = hl.size(survey).verdict
    expected = 1 if verdict.state == "not ready" else 0
    control = document_control(hl.read_survey(survey), verdict)
    commands = (
        ["size", str(survey)],
        ["price", str(survey), "--prices", str(PRICES), "--cutting", "1"],
        ["commission", str(survey), "-o", str(tmp_path / "site")],
        ["compare", str(DATA / "mill-annexe" / "survey.toml"), str(survey)],
        ["report", str(survey), "-o", str(tmp_path / "report")],
    )
    for command in commands:
        status = cli.main(command)
        printed = " ".join(capsys.readouterr().out.split())
        assert (command[0], status, printed.count(verdict.headline)) == (command[0], expected, 1)
    assert control.warning.startswith("NOT FOR CONSTRUCTION: ")
    pages = [tmp_path / "site" / "commissioning.html", *(tmp_path / "report").rglob("*.html")]
    assert len(pages) > 8
    for page in pages:
        text = html.unescape(page.read_text(encoding="utf-8"))
        site_only = "_user-guide." in page.name or "_labels." in page.name  # they are for a house that is built
        assert site_only or verdict.headline in text, page
        documents = text.count('class="title-block"')
        assert documents or "_labels." in page.name, page
        several = "_fitter-pack." in page.name  # its labels have the warning, without a title block
        assert text.count(control.warning) >= documents if several else text.count(control.warning) == documents, page
    written = tmp_path / "report" / "data" / "design.json"
    assert cli.main(["compare", str(survey), str(written)]) == expected
    assert verdict.headline in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("option", "value", "required"),
    [
        ("--pump-head", "1e300", "above 0 and at most 2000 kPa"),
        ("--pump-speed", "5", "above 0 and at most 1"),
        ("--room", "60", "0 to 40 °C"),
        ("--room", "-300", "0 to 40 °C"),
        ("--outdoor", "-300", "-60 to 40 °C"),
        ("--flow-temp", "200", "0.1 to 110, the range of water"),
    ],
)
def test_a_number_out_of_range_names_the_option_that_was_typed(option, value, required, capsys) -> None:
    survey = DATA / "alder-lodge" / "survey.toml"
    assert cli.main(["simulate", str(survey), option, value]) == 2
    found = f"{float(value):g}"
    assert capsys.readouterr().err == f"heatloop: simulate: {option}: found {found}; required: {required}\n"
