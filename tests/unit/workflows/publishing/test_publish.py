"""Publishing: a whole report of a survey with hostile names, and runs that fail or are interrupted."""

from __future__ import annotations

import base64
import errno
import hashlib
import json
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import unquote
from xml.etree import ElementTree

import openpyxl
import pandas as pd
import pytest

from heatloop.findings.input_errors import InputError
from heatloop.findings.safety import DEFERENCE, SAFETY_NOTICES
from heatloop.report.files.export import MANIFEST, ReportError
from heatloop.report.folders.manifest import HEAD, manifest_text
from heatloop.report.folders.staging import atomic_write
from heatloop.workflows.publishing.publish import PublishedReport, publish_report
from tests.helpers.command_line import answer
from tests.helpers.html_page import HtmlPage
from tests.helpers.paths import DATA, ROOT
from tests.helpers.patience import SURELY_S

ROOM, LOOP, PROJECT = "<script>alert(1)</script>", "=1+1", 'Mill & "Annexe" <b>$x_1$</b>'


def hostile_survey(folder: Path) -> Path:
    """Mill Annexe with names that would do harm if they were taken for more than words."""
    shutil.copytree(DATA / "mill-annexe", folder)
    path = folder / "survey.toml"
    head, tail = path.read_text(encoding="utf-8").split("[[loop]]", 1)
    head = head.replace('"Annexe"', f'"{ROOM}"').replace('"Mill Annexe"', f"'{PROJECT}'")
    tail = tail.replace('name = "Annexe"', f'name = "{LOOP}"', 1).replace('"Annexe"', f'"{ROOM}"')
    path.write_text(f"{head}[[loop]]{tail}", encoding="utf-8")
    return path


def hashed(**texts: str) -> dict[str, str]:
    """Hashes by file name; a name is given with _ for its dot."""
    return {name.replace("_", "."): hashlib.sha256(text.encode()).hexdigest() for name, text in texts.items()}


EARLIER_JSON = '{"schema_version": 1, "summary": {}}'
EARLIER = {"report.html": "old", MANIFEST: manifest_text(hashed(report_html="old"))}
"""As a report of a version without folders left it."""


def earlier_report(folder: Path) -> Path:
    """A folder as an earlier report left it."""
    folder.mkdir()
    for name, text in EARLIER.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def contents(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()}


@pytest.fixture(scope="module")
def steps() -> list[tuple[int, int, str]]:
    return []


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[int, int, str]]) -> PublishedReport:
    folder = tmp_path_factory.mktemp("report")
    survey = hostile_survey(folder / "job")
    target = folder / "out"
    target.mkdir()
    (target / "notes.txt").write_text("mine", encoding="utf-8")
    for name in ("rooms.csv", "report.pdf"):
        (target / name).write_text("from an earlier run", encoding="utf-8")
    old = "from an earlier run"
    (target / MANIFEST).write_text(manifest_text(hashed(report_pdf=old, rooms_csv=old)), encoding="utf-8")
    return publish_report(survey, target, progress=lambda *step: steps.append(step))


@pytest.fixture(scope="module")
def page(published: PublishedReport) -> HtmlPage:
    return HtmlPage(published.page.read_text(encoding="utf-8"))


def test_page_stands_alone(page: HtmlPage, published: PublishedReport) -> None:
    text = published.page.read_text(encoding="utf-8")
    for tag, attributes in page.tags:
        for name in ("src", "href", "srcset", "action", "data", "poster"):
            value = attributes.get(name) or ""
            assert value.startswith(("#", "data:image/svg+xml;base64,")) or not value, (tag, name, value[:60])
    assert not {tag for tag, _ in page.tags} & {"script", "iframe", "link", "object", "embed", "form"}
    assert not re.search(r"@import|url\(", text)
    assert not [a for _, attributes in page.tags for a in attributes if a.startswith("on")]


def test_no_page_shows_its_markup_as_text(published: PublishedReport) -> None:
    shown = re.compile(r"&lt;/?(div|table|t[rhd]|svg|section)\b")
    pages = {path.name: path.read_text(encoding="utf-8") for path in published.files if path.suffix == ".html"}
    assert not [name for name, text in pages.items() if shown.search(text)]


def test_page_pictures_have_words_and_headers_have_scope(page: HtmlPage) -> None:
    pictures = [attributes for tag, attributes in page.tags if tag == "img"]
    assert len(pictures) >= 6
    assert all(len(p.get("alt") or "") > 20 for p in pictures)
    assert len({p["alt"] for p in pictures}) == len(pictures)
    assert all(a.get("scope") in ("col", "row") for tag, a in page.tags if tag == "th")
    assert ("html", {"lang": "en-GB"}) in page.tags


def test_page_links_lead_somewhere(page: HtmlPage) -> None:
    targets = {attributes.get("id") for _, attributes in page.tags}
    links = [attributes["href"] for tag, attributes in page.tags if tag == "a"]
    assert len(links) >= 8
    assert all(link and link[1:] in targets for link in links)


def test_page_hides_code_and_opens_with_the_verdict(page: HtmlPage) -> None:
    words = " ".join("".join(page.words).split())
    assert "import heatloop" not in words
    assert "survey_path" not in words
    assert words.index("resolve") < words.index("Table 1")
    for section in ("Rooms", "Loops", "Pipework and balancing", "Plans", "Checks", "Assumptions and sources"):
        assert section in words
    for elsewhere in ("First fix", "Cutting plan", "Water record", "Purge flows"):
        assert elsewhere not in words, elsewhere


def test_every_caution_is_in_the_workbook_and_in_the_fitter_pack(published: PublishedReport) -> None:
    pack = next(path for path in published.for_site if path.name.endswith("_fitter-pack.html"))
    words = {pack.name: " ".join("".join(HtmlPage(pack.read_text(encoding="utf-8")).words).split())}
    assert published.workbook is not None
    cells = openpyxl.load_workbook(published.workbook)["Columns and safety notices"].iter_rows(values_only=True)
    words["workbook"] = " ".join(str(cell) for row in cells for cell in row if cell is not None)
    for place, text in words.items():
        missing = [one.title for one in SAFETY_NOTICES if one.title not in text or one.text not in text]
        assert not missing, place
        assert DEFERENCE in text, place


def test_hostile_names_are_words_on_the_page(page: HtmlPage, published: PublishedReport) -> None:
    text = published.page.read_text(encoding="utf-8")
    assert ROOM not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
    assert ROOM in "".join(page.words)
    assert PROJECT in "".join(page.words)
    assert not [tag for tag, _ in page.tags if tag == "script"]


def test_hostile_names_are_words_in_the_files(published: PublishedReport) -> None:
    answers = json.loads(published.json_file.read_text(encoding="utf-8"))
    assert answers["summary"]["project"] == PROJECT
    assert answers["rooms"][0]["room"] == ROOM
    loops = pd.read_csv(published.folder / "data" / "loops.csv", dtype=str, keep_default_na=False)
    assert list(loops["loop"]) == [LOOP]
    book = openpyxl.load_workbook(published.workbook)
    cell = book["Loops"].cell(4, 1)
    assert (cell.value, cell.data_type) == (LOOP, "s")


def test_hostile_names_are_words_in_every_page_sheet_and_table(published: PublishedReport) -> None:
    for path in (published.page, *published.for_site):
        text = path.read_text(encoding="utf-8")
        shown = HtmlPage(text)
        assert "script" not in {tag for tag, _ in shown.tags}, path.name
        assert ROOM in "".join(shown.words), path.name
        assert LOOP in "".join(shown.words) or path.name.endswith("_second-fix.html"), path.name
    cells = [c for sheet in openpyxl.load_workbook(published.workbook) for row in sheet.iter_rows() for c in row]
    live = [str(cell.value) for cell in cells if cell.data_type == "f"]
    assert live
    assert not [formula for formula in live if "1+1" in formula]
    for name in (ROOM, LOOP, f"{PROJECT}: workbook"):
        kept = [cell for cell in cells if cell.value == name]
        assert kept, name
        assert all(cell.quotePrefix for cell in kept) or not name.startswith("=")
    for path in published.csv:
        frame = pd.read_csv(path, dtype=str, keep_default_na=False)
        for column in {"room", "loop"} & set(frame):
            known = {ROOM, "all rooms"} if column == "room" else {LOOP}
            assert set(frame[column]) - {""} <= known, (path.name, column)


def test_pictures_of_hostile_names_hold_no_script(published: PublishedReport) -> None:
    found = re.findall(r'src="data:image/svg\+xml;base64,([^"]+)"', published.page.read_text(encoding="utf-8"))
    assert found
    for data in found:
        elements = list(ElementTree.fromstring(base64.b64decode(data)).iter())
        tags = {element.tag.rpartition("}")[2] for element in elements}
        assert {"svg", "path"} <= tags
        assert not tags & {"script", "foreignObject", "a"}
        links = [value for element in elements for name, value in element.items() if name.endswith("href")]
        assert all(link.startswith(("#", "data:image/png;base64,")) for link in links)


def test_hostile_names_are_words_in_a_terminal(published: PublishedReport, tmp_path: Path) -> None:
    survey = str(hostile_survey(tmp_path / "job"))
    for arguments in (["size", survey], ["simulate", survey], ["compare", survey, str(published.json_file)]):
        done = answer(*arguments)
        assert done.returncode in (0, 1), done.stderr
        assert done.stderr == ""
        assert (ROOM[:12] in done.stdout and LOOP in done.stdout) or arguments[0] == "compare"


def test_every_file_arrives_and_other_files_stay(published: PublishedReport) -> None:
    names = {path.relative_to(published.folder).as_posix() for path in published.folder.rglob("*") if path.is_file()}
    assert {path.relative_to(published.folder).as_posix() for path in published.files} == names - {
        "notes.txt",
        MANIFEST,
    }
    assert {name.partition("/")[0] for name in names if "/" in name} == {"client", "fitter", "order", "check", "data"}
    assert {path.name for path in published.csv} == {name[5:] for name in names if re.match(r"data/.*csv$", name)}
    assert (published.folder / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert not [name for name in names if name.startswith(".heatloop")]
    head, *listed = (published.folder / MANIFEST).read_text(encoding="utf-8").splitlines()
    assert head == HEAD
    assert {line.partition("  ")[2] for line in listed} == names - {"notes.txt", MANIFEST}


def test_the_index_names_every_file_and_why_one_is_not_there(published: PublishedReport) -> None:
    index = HtmlPage(published.index.read_text(encoding="utf-8"))
    linked = {unquote(attributes["href"] or "") for tag, attributes in index.tags if tag == "a"}
    files = {path.relative_to(published.folder).as_posix() for path in published.files}
    assert linked == files - {"index.html", "document-register.json"}
    words = " ".join("".join(index.words).split())
    assert "Quotation: no prices given" in words
    levels = {name.removesuffix(".dxf").rpartition("level-")[2] for name in files if name.endswith(".dxf")}
    assert levels
    assert all(f"First fix, drawing file, level {level} m" in words for level in levels)
    assert published.release == "NOT FOR CONSTRUCTION: the calculation has not yet been checked by a second person"
    assert published.headline in words
    assert words.count(published.release) == 1
    assert published.remarks == (), "no quotation"
    register = json.loads((published.folder / "document-register.json").read_text(encoding="utf-8"))
    assert {one["name"] for one in register["files"]} == files - {"document-register.json"}


def test_what_the_earlier_report_had_besides_is_gone(published: PublishedReport) -> None:
    for name in ("report.pdf", "rooms.csv"):
        assert not (published.folder / name).exists(), "a file of an older design beside new ones misleads"


@pytest.mark.parametrize("name", ["index.html", "files.txt", "document-register.json"])
def test_a_file_of_somebody_else_is_never_overwritten(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match=rf"found {name}, which no earlier report made") as caught:
        publish_report(DATA / "mill-annexe" / "survey.toml", tmp_path, audience="client")
    assert "\n" not in str(caught.value)
    assert {path.name: path.read_text(encoding="utf-8") for path in tmp_path.iterdir()} == {name: "mine"}


def test_a_list_of_files_names_nothing_outside_its_folder(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (tmp_path / "a.csv").write_text("mine", encoding="utf-8")
    (out / MANIFEST).write_text(manifest_text({"../a.csv": "0" * 64}), encoding="utf-8")
    with atomic_write(out, ("../a.csv",)) as stage:
        (stage / "b.csv").write_text("new", encoding="utf-8")
    assert (tmp_path / "a.csv").read_text(encoding="utf-8") == "mine"


def test_progress_counts_up_to_the_end(published: PublishedReport, steps: list[tuple[int, int, str]]) -> None:
    done = [step[0] for step in steps]
    assert done == sorted(done)
    assert steps[-1][0] == steps[-1][1]
    assert "Verdict" in {step[2] for step in steps}


def test_a_missing_survey_changes_nothing(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nowhere\.toml: found no such file"):
        publish_report(tmp_path / "nowhere.toml", tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_wrong_survey_is_told_in_plain_lines_and_changes_nothing(tmp_path: Path) -> None:
    job = tmp_path / "job"
    shutil.copytree(DATA / "mill-annexe", job)
    text = (job / "survey.toml").read_text(encoding="utf-8")
    (job / "survey.toml").write_text(text.replace("outdoor_c = -4.0", 'outdoor_c = "cold"'), encoding="utf-8")
    out = earlier_report(tmp_path / "out")
    with pytest.raises(InputError, match="outdoor_c") as caught:
        publish_report(job / "survey.toml", out)
    assert "Traceback" not in str(caught.value)
    assert contents(out) == EARLIER


@pytest.mark.parametrize(
    "sign", [pytest.param(".heatloop-*", marks=pytest.mark.long), ".heatloop-*/data/design.json"], ids=["early", "late"]
)
def test_ctrl_c_leaves_the_earlier_files_whole(tmp_path: Path, sign: str) -> None:
    out = earlier_report(tmp_path / "out")
    survey = DATA / "mill-annexe" / "survey.toml"
    command = [sys.executable, "-m", "heatloop", "report", str(survey), "-o", str(out), "--for", "check"]
    run = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    deadline = time.monotonic() + SURELY_S
    while not list(out.glob(sign)) and run.poll() is None and time.monotonic() < deadline:
        time.sleep(0.02)
    run.send_signal(signal.SIGINT)
    _, told = run.communicate(timeout=SURELY_S)
    assert run.returncode == 130
    assert told.strip() == "heatloop: interrupted; no file was changed"
    assert contents(out) == EARLIER


def _limited(*arguments: str, max_bytes: int) -> subprocess.CompletedProcess[str]:
    """The command line where no file can grow beyond a size, as on a disk that is full."""
    resource = pytest.importorskip("resource")

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (max_bytes, max_bytes))

    # -B: a module's bytecode cut off at the limit would stop every later process
    command = [sys.executable, "-B", "-m", "heatloop", *arguments]
    return subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, timeout=SURELY_S, check=False, preexec_fn=limit
    )


def test_a_full_disk_leaves_the_earlier_json_whole(tmp_path: Path) -> None:
    (tmp_path / "d.json").write_text(EARLIER_JSON, encoding="utf-8")
    survey = str(DATA / "mill-annexe" / "survey.toml")
    done = _limited("size", survey, "--json", str(tmp_path / "d.json"), max_bytes=5000)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("heatloop: ")
    assert done.stderr.count("\n") == 1
    assert {path.name: path.read_text(encoding="utf-8") for path in tmp_path.iterdir()} == {"d.json": EARLIER_JSON}


def test_a_full_disk_leaves_the_earlier_report_whole(tmp_path: Path) -> None:
    out = earlier_report(tmp_path / "out")
    survey = str(DATA / "mill-annexe" / "survey.toml")
    done = _limited("report", survey, "-o", str(out), "--for", "client", max_bytes=40_000)
    assert done.returncode == 2, done.stderr
    assert "cannot write the report" in done.stderr
    assert done.stderr.count("\n") == 1
    assert contents(out) == EARLIER


@pytest.mark.skipif(not Path("/sys/kernel").is_dir(), reason="requires a folder that even root cannot write to")
def test_a_folder_that_cannot_be_written_is_told_in_one_line_before_the_work(tmp_path: Path) -> None:
    survey = str(DATA / "mill-annexe" / "survey.toml")
    for arguments in (
        ["report", survey, "-o", "/sys/kernel/heatloop"],
        ["start", "/sys/kernel/heatloop"],
        ["size", survey, "--json", "/sys/kernel/d.json"],
    ):
        done = answer(*arguments)
        assert (done.returncode, done.stdout) == (2, ""), arguments
        assert done.stderr.count("\n") == 1
        assert "/sys/kernel" in done.stderr


@pytest.mark.parametrize("fault", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt(), ValueError()])
def test_a_run_that_stops_half_way_leaves_the_folder_as_it_was(tmp_path: Path, fault: BaseException) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "rooms.csv").write_text("old", encoding="utf-8")
    required = ReportError if isinstance(fault, OSError) else type(fault)

    def half_a_run() -> None:
        with atomic_write(out) as stage:
            (stage / "rooms.csv").write_text("new", encoding="utf-8")
            raise fault

    with pytest.raises(required) as caught:
        half_a_run()
    assert (out / "rooms.csv").read_text(encoding="utf-8") == "old"
    assert [path.name for path in out.iterdir()] == ["rooms.csv"]
    if required is ReportError:
        assert "No space left on device" in str(caught.value)
        assert "\n" not in str(caught.value)


def test_files_change_together_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text("old", encoding="utf-8")
    rename = Path.rename

    def stubborn(self: Path, target: Path) -> Path:
        if target == tmp_path / "c.csv":
            raise PermissionError(errno.EACCES, "Permission denied", str(target))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", stubborn)

    def a_run() -> None:
        with atomic_write(tmp_path) as stage:
            for name in ("a.csv", "b.csv", "c.csv"):
                (stage / name).write_text("new", encoding="utf-8")

    with pytest.raises(ReportError, match="Permission denied"):
        a_run()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.csv", "b.csv"]
    assert {(tmp_path / name).read_text(encoding="utf-8") for name in ("a.csv", "b.csv")} == {"old"}


def test_a_new_folder_appears_whole(tmp_path: Path) -> None:
    out = tmp_path / "deep" / "out"
    with atomic_write(out) as stage:
        (stage / "a.csv").write_text("new", encoding="utf-8")
        assert not out.exists()
    assert [path.name for path in out.iterdir()] == ["a.csv"]
    assert [path.name for path in out.parent.iterdir()] == ["out"]


def test_a_folder_that_cannot_be_made_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file stands here", encoding="utf-8")
    with pytest.raises(ReportError, match=r"out: cannot write the report") as caught, atomic_write(tmp_path / "out"):
        pass
    assert "\n" not in str(caught.value)
    assert (tmp_path / "out").read_text(encoding="utf-8") == "a file stands here"
