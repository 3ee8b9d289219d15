"""Commands for a survey that is being taken or entered: plan, form."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from heatloop.__main__ import main
from tests.helpers.paths import DATA


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return shutil.copytree(DATA / "alder-lodge", tmp_path / "lodge")


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    status = main([str(argument) for argument in arguments])
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return status, out, err


def test_a_plan_without_faults(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "plan"
    status, text, _ = run(capsys, "plan", folder / "survey.toml", "-o", out)
    assert (status, text) == (0, f"{out / 'plan.html'}\n{out / 'plan.svg'}\n9 rooms drawn; no input errors.\n")
    assert run(capsys, "plan", folder / "survey.toml", "-o", out)[0] == 0  # its own files are replaced


def test_faults_are_listed_by_the_numbers_of_the_plan(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    survey = folder / "survey.toml"
    survey.write_text(survey.read_text("utf-8").replace("length_m = 2.81", "length_m = 3.32"), encoding="utf-8")
    status, text, _ = run(capsys, "plan", survey, "-o", tmp_path / "plan")
    assert status == 1
    assert "9 rooms drawn; 1 input error.\n" in text
    assert '  1  room "Study", walls: found a last wall that ends 520 mm' in text


def test_nothing_is_overwritten_and_nothing_half_written(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "plan"
    out.mkdir()
    (out / "plan.html").write_text("my page", encoding="utf-8")
    status, _, error = run(capsys, "plan", folder / "survey.toml", "-o", out)
    assert status == 2
    assert "found plan.html, which heatloop plan did not write" in error
    assert [path.name for path in out.iterdir()] == ["plan.html"]
    assert run(capsys, "plan", folder / "survey.toml", "-o", out / "plan.html")[0] == 2
    assert run(capsys, "plan", folder / "none.toml", "-o", tmp_path / "new")[0] == 2
    assert not (tmp_path / "new").exists()


def test_the_end_of_a_watch_is_no_failure(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def pressed(seconds: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("heatloop.workflows.surveying.watch.time.sleep", pressed)
    status, text, error = run(capsys, "plan", folder / "survey.toml", "-o", tmp_path / "plan", "--watch")
    assert (status, error) == (0, "")
    assert text.endswith("stop with Ctrl-C.\nNo longer watching.\n")
    assert "plan.js?" not in (tmp_path / "plan" / "plan.html").read_text(encoding="utf-8")


def test_forms_blank_and_filled(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "forms"
    status, text, _ = run(capsys, "form", "-o", out, "--rooms", 2)
    assert (status, text) == (0, f"{out / 'survey-forms.pdf'}: 2 sheets of A4, to be printed at 100 %\n")
    status, text, _ = run(capsys, "form", folder / "survey.toml", "-o", out)
    assert (status, text) == (0, f"{out / 'survey-forms.pdf'}: 9 sheets of A4, to be printed at 100 %\n")


def test_forms_never_replace_another_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "survey-forms.pdf").write_bytes(b"%PDF-1.4 of somebody else")
    status, _, error = run(capsys, "form", "-o", tmp_path)
    assert status == 2
    assert "found survey-forms.pdf, which heatloop form did not write" in error
    assert (tmp_path / "survey-forms.pdf").read_bytes() == b"%PDF-1.4 of somebody else"


@pytest.mark.parametrize("given", [["none.toml"], ["--rooms", "0"], ["survey.toml", "--rooms", "2"]])
def test_wrong_arguments_of_form_are_one_line(
    given: list[str], folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    status, _, error = run(capsys, "form", *given, "-o", tmp_path / "forms")
    assert status == 2
    assert len(error.splitlines()) == 1
    assert not (tmp_path / "forms").exists()
