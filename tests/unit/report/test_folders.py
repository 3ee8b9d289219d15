"""What is written takes the place of nothing that heatloop did not write, and a kill leaves all old or all new."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import pytest

import heatloop as hl
from heatloop.__main__ import main
from heatloop.handover.quotation import QUOTATION
from heatloop.report.files.export import MANIFEST, SHEET, ReportError, require_writable, write_json
from heatloop.report.folders.manifest import manifest_text, of_earlier_report, refuse_foreign
from heatloop.report.folders.staging import atomic_write, tidy
from heatloop.workflows.publishing.publish import REPORT_NAMES, publish_report
from tests.helpers.folder_contents import DEAD, contents
from tests.helpers.paths import DATA, ROOT

COLUMNS = [column.name for column in QUOTATION.columns]
MILL = DATA / "mill-annexe"


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "job"
    shutil.copytree(MILL, folder)
    (folder / "prices.csv").write_text("# currency: EUR\nitem,price,per\nx,1,piece\n", encoding="utf-8")
    (folder / "readings.csv").write_text("reading,of,value,unit,error\n", encoding="utf-8")
    (folder / "notes.json").write_text('{"mine": 1}', encoding="utf-8")
    (folder / "link.json").symlink_to("survey.toml")
    return folder


@pytest.mark.parametrize("target", ["survey.toml", "catalogue.toml", "prices.csv", "notes.json", "link.json"])
@pytest.mark.parametrize("command", ["size", "simulate", "diagnose", "price"])
def test_no_file_of_the_user_is_overwritten(
    command: str, target: str, job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*given: object, **more: object) -> None:
        raise AssertionError("worked out though the answers have no place to go")

    monkeypatch.setattr("heatloop.workflows.design.size", never)
    monkeypatch.setattr("heatloop.workflows.operating_point.simulate", never)
    before = contents(job)
    more = {"price": ["--prices", job / "prices.csv", "--csv"], "diagnose": [job / "readings.csv", "--json"]}
    arguments = [command, job / "survey.toml", *more.get(command, ["--json"]), job / target]
    assert main([str(argument) for argument in arguments]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert "found a file that" in told.err
    assert contents(job) == before


def test_readings_are_not_overwritten_by_their_diagnosis(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    readings = str(job / "readings.csv")
    assert main(["diagnose", str(job / "survey.toml"), readings, "--json", readings]) == 2
    assert "found a file that is read; required: another name" in capsys.readouterr().err


def test_an_earlier_answer_and_an_empty_file_are_replaced(tmp_path: Path) -> None:
    answer = write_json(tmp_path / "d.json", hl.size(MILL / "survey.toml").to_dict())
    require_writable(answer)
    (tmp_path / "empty.json").touch()
    require_writable(tmp_path / "empty.json")
    table = tmp_path / "q.csv"
    table.write_text(",".join(COLUMNS) + "\n", encoding="utf-8")
    require_writable(table, COLUMNS)
    with pytest.raises(ReportError, match="found a file that is read"):
        require_writable(table, COLUMNS, [tmp_path / "." / "q.csv"])
    with pytest.raises(ReportError, match="heatloop did not write"):
        require_writable(table)


def test_a_part_is_nobodys_file_and_no_link_is_followed(tmp_path: Path) -> None:
    precious, mine = tmp_path / "precious", tmp_path / ".d.json.part"
    precious.write_text("precious", encoding="utf-8")
    mine.write_text("mine", encoding="utf-8")
    linked = tmp_path / f".heatloop-{DEAD}-abcdefgh.part"
    linked.symlink_to(precious)
    (tmp_path / ".d2.json.part").symlink_to(precious)
    write_json(tmp_path / "d.json", {"a": 1})
    write_json(tmp_path / "d2.json", {"a": 2})
    assert precious.read_text(encoding="utf-8") == "precious"
    assert mine.read_text(encoding="utf-8") == "mine"
    assert {path.name for path in tmp_path.iterdir()} == {
        "precious", ".d.json.part", ".d2.json.part", linked.name, "d.json", "d2.json"
    }  # fmt: skip


def test_only_files_as_they_were_written_are_a_reports(tmp_path: Path) -> None:
    for name in ("rooms.csv", "loops.csv", "mine.txt", "other.csv"):
        (tmp_path / name).write_text("old", encoding="utf-8")
    (tmp_path / "report.html").mkdir()
    (tmp_path / "report.html" / "mine.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "design.xlsx").symlink_to("mine.txt")
    listed = ("rooms.csv", "loops.csv", "mine.txt", "report.html", "design.xlsx", "pumps.csv")
    (tmp_path / MANIFEST).write_text(manifest_text({name: sha("old") for name in listed}), encoding="utf-8")
    (tmp_path / "loops.csv").write_text("changed by hand", encoding="utf-8")
    assert set(of_earlier_report(tmp_path, REPORT_NAMES)) == {MANIFEST, "rooms.csv"}
    refuse_foreign(tmp_path, ["rooms.csv", MANIFEST], REPORT_NAMES)
    with pytest.raises(ReportError, match=r"found loops\.csv, changed since a report made them"):
        refuse_foreign(tmp_path, ["loops.csv"], REPORT_NAMES)
    for name in ("report.html", "design.xlsx"):
        with pytest.raises(ReportError, match=f"found {name}"):
            refuse_foreign(tmp_path, [name], REPORT_NAMES)
    before = contents(tmp_path)
    with atomic_write(tmp_path, REPORT_NAMES) as stage:
        (stage / "a.csv").write_text("new", encoding="utf-8")
    assert contents(tmp_path) == {
        **{k: v for k, v in before.items() if k not in ("rooms.csv", MANIFEST)},
        "a.csv": "new",
    }


@pytest.mark.parametrize(
    "text",
    [
        "",
        "rooms.csv\n",
        "Files of this report\nrooms.csv\n",
        manifest_text({}) + "rooms.csv\n",
        "\0",
        manifest_text({}),
    ],
)
def test_a_list_that_is_not_ours_makes_no_file_a_reports(text: str, tmp_path: Path) -> None:
    (tmp_path / "rooms.csv").write_text("mine", encoding="utf-8")
    (tmp_path / MANIFEST).write_text(text, encoding="utf-8")
    assert "rooms.csv" not in of_earlier_report(tmp_path, REPORT_NAMES)


def test_a_folder_of_a_files_name_is_left_and_refused(tmp_path: Path) -> None:
    (tmp_path / "index.html").mkdir()
    (tmp_path / "index.html" / "mine.txt").write_text("mine", encoding="utf-8")
    (tmp_path / MANIFEST).write_text(manifest_text({"index.html": sha("")}), encoding="utf-8")
    before = contents(tmp_path)
    with pytest.raises(ReportError, match=r"found index\.html"):
        publish_report(MILL / "survey.toml", tmp_path)
    assert contents(tmp_path) == before


def test_a_report_replaces_its_own_files(tmp_path: Path) -> None:
    out = tmp_path / "out"
    first = publish_report(MILL / "survey.toml", out, audience="client")
    written = {path.relative_to(out).as_posix() for path in first.files}
    assert set(of_earlier_report(out, REPORT_NAMES)) == {MANIFEST, *written}
    assert {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()} == {MANIFEST, *written}
    second = publish_report(MILL / "survey.toml", out, audience="order")
    assert not (out / "client").exists(), "what the earlier report had besides is gone with its folder"
    with second.index.open("a", encoding="utf-8") as file:
        file.write(" ")
    with pytest.raises(ReportError, match=r"found index\.html, changed since"):
        publish_report(MILL / "survey.toml", out, audience="order")


def test_a_link_in_place_of_a_folder_is_refused_and_nothing_is_written_through_it(tmp_path: Path) -> None:
    out, elsewhere = tmp_path / "out", tmp_path / "elsewhere"
    out.mkdir()
    elsewhere.mkdir()
    (out / "client").symlink_to(elsewhere)
    with pytest.raises(ReportError, match="cannot write the report"):
        publish_report(MILL / "survey.toml", out, audience="client")
    assert list(elsewhere.iterdir()) == []
    assert [path.name for path in out.iterdir()] == ["client"]


def test_a_page_that_is_no_sheet_stays(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / SHEET).write_text("mine", encoding="utf-8")
    assert main(["commission", str(MILL / "survey.toml"), "-o", str(tmp_path)]) == 2
    assert f"found {SHEET}, which heatloop did not write" in capsys.readouterr().err
    assert contents(tmp_path) == {SHEET: "mine"}


def test_a_sheet_goes_into_a_folder_and_not_over_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "site").write_text("mine", encoding="utf-8")
    assert main(["commission", str(MILL / "survey.toml"), "-o", str(tmp_path / "site")]) == 2
    assert capsys.readouterr().err.strip().endswith("site: found a file; required: a folder")
    assert contents(tmp_path) == {"site": "mine"}


OLD = {"a.csv": "old a", "b.csv": "old b", "gone.csv": "old gone"}
NEW = {"a.csv": "new a", "b.csv": "new b", "c.csv": "new c"}
MANIFEST_TEXT = manifest_text({name: sha(text) for name, text in NEW.items()})
KILLED = f"""
import os, sys
from pathlib import Path
from heatloop.report.folders import staging
left = int(sys.argv[2])
def counted(real):
    def call(*given, **more):
        global left
        left -= 1
        if left < 0:
            os._exit(9)
        return real(*given, **more)
    return call
def arm():
    for name in ("rename", "replace", "unlink", "mkdir", "rmdir"):
        setattr(Path, name, counted(getattr(Path, name)))
    for name in ("rename", "replace", "unlink", "rmdir", "open"):
        setattr(os, name, counted(getattr(os, name)))
target = Path(sys.argv[1])
if sys.argv[3] == "tidy":
    arm()
    staging.tidy(target)
else:
    with staging.atomic_write(target, ("a.csv", "b.csv", "c.csv", "gone.csv", "files.txt")) as stage:
        for name, text in {NEW!r}.items():
            (stage / name).write_text(text, encoding="utf-8")
        (stage / "files.txt").write_text({MANIFEST_TEXT!r}, encoding="utf-8")
        arm()
"""


def killed(target: Path, step: int, what: str = "swap") -> bool:
    """Whether a run was killed at that step, counted in calls that change the disk."""
    arguments = [str(target), str(step), what]
    if hasattr(os, "fork"):  # a copy of this process has everything imported
        child = os.fork() or _run_killed(arguments)
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    else:
        code = subprocess.run([sys.executable, "-c", KILLED, *arguments], cwd=ROOT, check=False).returncode
    assert code in (0, 9)
    return code == 9


def _run_killed(arguments: list[str]) -> NoReturn:
    """Run the lines of KILLED in a copy of this process, and end it."""
    code = 1
    try:
        sys.argv = ["-c", *arguments]
        exec(compile(KILLED, "killed", "exec"), {"__name__": "killed"})
        code = 0
    finally:
        os._exit(code)


def earlier(folder: Path) -> dict[str, str]:
    """A folder as an earlier report left it, with a file of somebody else."""
    folder.mkdir()
    texts = {**OLD, "mine.txt": "mine", MANIFEST: manifest_text({name: sha(text) for name, text in OLD.items()})}
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return texts


def test_a_kill_at_any_step_leaves_all_old_or_all_new(
    tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    after = {**NEW, "mine.txt": "mine", MANIFEST: MANIFEST_TEXT}
    ends = []
    for step in range(200):
        out = tmp_path / f"out{step}"
        before = earlier(out)
        was_killed = killed(out, step)
        tidy(out)
        found = contents(out)
        assert found in (before, after), step
        assert not [path for path in out.iterdir() if path.name.startswith(".")]
        ends.append(found == after)
        if not was_killed:
            break
    assert not was_killed
    assert ends == sorted(ends), "once the change is decided it is always finished"
    assert len(ends) > 10
    assert not ends[0]
    record_property("kills", len(ends) - 1)


def test_finishing_may_be_killed_too(tmp_path: Path, record_property: Callable[[str, object], None]) -> None:
    out = tmp_path / "out"
    earlier(out)
    step = 0
    while not (list(out.glob(".heatloop-*/.journal")) and not (out / "gone.csv").exists()):
        shutil.rmtree(out)
        earlier(out)
        assert killed(out, step)
        step += 1
    rounds = 0
    while killed(out, rounds, "tidy"):
        rounds += 1
        assert rounds < 200
    record_property("kills", step + rounds)
    assert {name: (out / name).read_text(encoding="utf-8") for name in NEW} == NEW
    assert not (out / "gone.csv").exists()
    assert not list(out.glob(".heatloop-*"))


def test_leftovers_of_killed_runs_go_and_others_stay(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    for folder in (out, tmp_path):
        for name in (f".heatloop-{DEAD}-abcdefgh", f".heatloop-{os.getpid()}-abcdefgh", ".heatloop-mine"):
            (folder / name).mkdir()
            (folder / name / "rooms.csv").write_text("x", encoding="utf-8")
    (out / f".heatloop-{DEAD}-linked_1").symlink_to(tmp_path / ".heatloop-mine")
    with atomic_write(out) as stage:
        (stage / "rooms.csv").write_text("new", encoding="utf-8")
    for folder in (out, tmp_path):
        left = {path.name for path in folder.iterdir() if path.name.startswith(".") and not path.is_symlink()}
        assert left == {f".heatloop-{os.getpid()}-abcdefgh", ".heatloop-mine"}
    assert (tmp_path / ".heatloop-mine" / "rooms.csv").exists()


def test_a_forged_journal_reaches_nothing_outside_its_folder(tmp_path: Path) -> None:
    out = tmp_path / "out"
    stage = out / f".heatloop-{DEAD}-abcdefgh"
    stage.mkdir(parents=True)
    (tmp_path / "precious").write_text("precious", encoding="utf-8")
    journal = {"new": {}, "stale": {"../precious": sha("precious")}}
    (stage / ".journal").write_text(json.dumps(journal), encoding="utf-8")
    tidy(out)
    assert contents(tmp_path) == {"precious": "precious"}


def test_a_file_put_in_the_way_meanwhile_stays_and_is_told(tmp_path: Path) -> None:
    out = tmp_path / "out"
    stage = out / f".heatloop-{DEAD}-abcdefgh"
    stage.mkdir(parents=True)
    (stage / "a.csv").write_text("new", encoding="utf-8")
    (stage / ".journal").write_text(json.dumps({"new": {"a.csv": None}, "stale": {}}), encoding="utf-8")
    (out / "a.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match=r"found a\.csv, which was put there while"):
        tidy(out)
    assert (out / "a.csv").read_text(encoding="utf-8") == "mine"
    (out / "a.csv").unlink()
    tidy(out)
    assert contents(out) == {"a.csv": "new"}
