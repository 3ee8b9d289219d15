"""Files that are cut short, huge, endless or meant to harm: status 2, whole plain lines with their place, no hang."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.report.files.export import write_json
from heatloop.survey.entry import read_survey
from heatloop.survey.toml import input_text
from heatloop.text import files
from heatloop.text.column import number_column, text_column
from heatloop.text.summary import Summary, as_text, grid, line_width
from tests.helpers.command_line import answer
from tests.helpers.input_lines import lines_of
from tests.helpers.paths import DATA, ROOT

MILL = DATA / "mill-annexe"

PRICES = "# currency: EUR\nitem,price,per\n"


def run(*arguments: object, code: str = "pass", **more: object) -> subprocess.CompletedProcess[str]:
    """The command line in a process of its own, after some lines of Python."""
    start = f"import sys; {code}; import heatloop.__main__ as m; sys.argv[0] = 'heatloop'; m.program()"
    command = [sys.executable, "-c", start, *map(str, arguments)]
    given = {"capture_output": True, "text": True, "timeout": 120, "check": False, "cwd": ROOT, **more}
    return subprocess.run(command, **given)  # type: ignore[call-overload, no-any-return]


def refused(*arguments: object, code: str = "") -> list[str]:
    """The lines of a command that ends in status 2 and prints nothing else; with `code` in a process of its own."""
    done = run(*arguments, code=code) if code else answer(*arguments)
    assert (done.returncode, done.stdout) == (2, ""), done.stderr
    assert done.stderr.isprintable() or done.stderr.replace("\n", "").isprintable()
    return done.stderr.splitlines()


def changed(job: Path, *pairs: tuple[str, str]) -> Path:
    """The survey with words of it changed."""
    path = job / "survey.toml"
    text = path.read_text(encoding="utf-8")
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return path


def _told(path: Path) -> InputError | None:
    """What is wrong with a survey; None where nothing is."""
    try:
        read_survey(path)
    except InputError as error:
        return error
    return None


def test_a_report_without_its_extra_says_what_to_install(tmp_path: Path) -> None:
    """One library after the other is missing, in one process."""
    modules = ("nbformat", "nbconvert", "IPython")
    arguments = ["report", str(MILL / "survey.toml"), "-o", str(tmp_path / "out")]
    code = f"""
import sys
from heatloop.__main__ import main
for module in {modules}:
    sys.modules[module] = None
    print(module, main({arguments}), flush=True)
    del sys.modules[module]
"""
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [f"{module} 2" for module in modules]
    for module, line in zip(modules, done.stderr.splitlines(), strict=True):
        assert f"report: requires {module}, which is not installed" in line
        assert 'pip install "heatloop[notebook]"' in line
        assert 'pip install -e ".[notebook]" in a checkout' in line
    assert list(tmp_path.iterdir()) == []


def test_a_drawing_without_its_extra_says_what_to_install(tmp_path: Path) -> None:
    (tmp_path / "a.dxf").write_text("0\nEOF\n", encoding="utf-8")
    arguments = ("start", tmp_path / "out", "--drawing", tmp_path / "a.dxf")
    (line,) = refused(*arguments, code="sys.modules['ezdxf'] = None")
    assert 'ezdxf, which is not installed; install heatloop with its optional part "drawing"' in line


@pytest.fixture
def fifo(tmp_path: Path) -> Path:
    if not hasattr(os, "mkfifo"):
        pytest.skip("requires named pipes")
    os.mkfifo(tmp_path / "pipe")
    return tmp_path / "pipe"


@pytest.mark.parametrize("kind", ["pipe", "/dev/zero"])
@pytest.mark.parametrize("use", ["survey", "catalogue", "prices", "readings", "drawing", "json"])
def test_devices_and_pipes_are_refused_at_once(kind: str, use: str, fifo: Path, job: Path, tmp_path: Path) -> None:
    path, good = fifo if kind == "pipe" else Path(kind), MILL / "survey.toml"
    if use == "json":
        (tmp_path / "d.json").symlink_to(path)
    (line,) = {
        "survey": lambda: refused("size", path),
        "catalogue": lambda: refused("size", changed(job, ('"catalogue.toml"', f'"{path}"'))),
        "prices": lambda: refused("price", good, "--prices", path),
        "readings": lambda: refused("diagnose", good, path),
        "drawing": lambda: refused("start", tmp_path / "new", "--drawing", path),
        "json": lambda: refused("compare", tmp_path / "d.json", good),
    }[use]()
    assert "found a device, a pipe or a socket; required: the path of a plain file" in line
    assert not (tmp_path / "new").exists()


def test_a_file_beyond_the_limit_is_not_read(job: Path) -> None:
    with (job / "survey.toml").open("ab") as file:
        file.truncate(files.MAX_BYTES + 1)
    assert lines_of(job / "survey.toml") == [
        f"{job / 'survey.toml'}: found a file of more than 20 MB; required: a file of ordinary size"
    ]


def test_a_pipe_from_the_shell_is_read_to_its_end_and_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    reading, writing = os.pipe()
    path = Path(f"/dev/fd/{reading}")
    if not path.exists():
        pytest.skip("requires /dev/fd")
    os.write(writing, b"a")
    threading.Timer(0.2, lambda: (os.write(writing, b"b"), os.close(writing))).start()
    assert files.file_bytes(path) == b"ab"
    os.close(reading)
    monkeypatch.setattr(files, "WAIT_S", 0.1)
    reading, writing = os.pipe()
    with pytest.raises(InputError, match="found a pipe that stayed silent"):
        input_text.input_text(Path(f"/dev/fd/{reading}"), "a file")
    os.close(reading)
    os.close(writing)


def test_a_bearing_that_is_none_is_one_line(job: Path) -> None:
    path = changed(job, ("bearing_deg = 0", 'bearing_deg = "north"'), ('5.30, beyond = "n', '6.30, beyond = "n'))
    lines = [line for line in lines_of(path) if "first_wall_bearing_deg" in line]
    assert len(lines) == 1
    assert "found the text 'north'; required: a number in degrees from north" in lines[0]


@pytest.mark.parametrize(
    "text",
    [
        ".".join(["a"] * 5000) + " = 1",
        "[" + ".".join(["a"] * 400_000) + "]",
        "a = " + "{a=" * 3000,
        "a = " + "[" * 3000 + "]" * 3000,
        "\n".join(f"[{'.'.join('a' * n)}]" for n in range(1, 29)) + "\n[" + ".".join("a" * 29) + "]\nb={c={d={e=1}}}",
    ],
    ids=["dotted", "heading", "braces", "lists", "headings"],
)
def test_deep_tables_are_one_line_at_once(text: str, tmp_path: Path) -> None:
    (tmp_path / "survey.toml").write_text(text, encoding="utf-8")
    began = time.process_time()
    (line,) = lines_of(tmp_path / "survey.toml")
    assert "nested too deeply to read; required: at most 30 in each other" in line
    assert re.search(r"survey\.toml: (line \d+, column \d+|a): found", line)
    assert time.process_time() - began < 10.0


def test_a_number_of_400_digits_is_one_line(job: Path) -> None:
    path = changed(job, ("outdoor_c = -4.0", f"outdoor_c = {'1' * 400}"))
    (line,) = lines_of(path)
    assert 'found a whole number of 400 digits as "outdoor_c"; required: a number of at most 18 digits' in line
    assert re.search(r"survey\.toml: line \d+, column 13: ", line)


def test_300000_unknown_keys_are_told_in_short_and_in_time(job: Path) -> None:
    path = job / "survey.toml"
    path.write_text("".join(f"k{i} = 1\n" for i in range(300_000)) + path.read_text(encoding="utf-8"), encoding="utf-8")
    began = time.process_time()
    *lines, last = lines_of(path)
    assert len(lines) == 100
    assert 'found the key "k0"; required: a key' in lines[0]
    assert last == "and 299900 more faults"
    assert time.process_time() - began < 60.0


def test_a_name_of_ten_megabytes_is_one_short_line(job: Path) -> None:
    lines = lines_of(changed(job, ("[project]\nname", f'[project]\n"{"k" * 10_000_000}" = 1\nname')))
    assert any("the key" in line for line in lines)
    assert max(map(len, lines)) < 4000
    path = changed(shutil.copytree(MILL, job / "b"), ('name = "Annexe"', f'name = "{"n" * 9_000_000}"'))
    lines = lines_of(path)
    assert any("of at most 200 characters" in line for line in lines)
    assert max(map(len, lines)) < 4000


def test_2000_rooms_each_like_the_next(job: Path) -> None:
    rooms = "".join(f'[[room]]\nname = "r{i}"\ncopy_of = "r{i + 1}"\n' for i in range(2000))
    with (job / "survey.toml").open("a", encoding="utf-8") as file:
        file.write(f'{rooms}[[room]]\nname = "r2000"\ncopy_of = "Annexe"\n')
    began = time.process_time()
    assert all(", copy_of" not in line for line in str(_told(job / "survey.toml")).splitlines())
    with (job / "survey.toml").open("a", encoding="utf-8") as file:
        file.write('[[room]]\nname = "x"\ncopy_of = "y"\n[[room]]\nname = "y"\ncopy_of = "x"\n')
    lines = lines_of(job / "survey.toml")
    assert sum('"x" copy of "y" copy of "x"' in line for line in lines) == 1
    assert time.process_time() - began < 120.0


@pytest.mark.parametrize("name", ["\U0001f468\u200d\U0001f469\u200d\U0001f467 room", "نشیمن\u200cخانه"])
def test_names_with_joiners_are_names(name: str, job: Path) -> None:
    survey = read_survey(changed(job, ('"Annexe"', f'"{name}"')))
    assert survey.rooms[0].name == name
    assert name in as_text(Summary(name))


@pytest.mark.parametrize("name", ["\\u200d", "a\\u202eb", "a\\u2066b", "a\\u001b[31mb", "a\\nb"])
def test_names_that_hide_or_steer_are_refused_and_shown_escaped(name: str, job: Path) -> None:
    lines = lines_of(changed(job, ('"Annexe"', f'"{name}"')))
    assert any("as a text in quotes on one line" in line for line in lines)
    assert all(line.replace("\u200d", "").isprintable() for line in lines)


def test_a_room_beyond_the_range_of_iso_7730_has_no_draught_rate(job: Path) -> None:
    design = hl.size(changed(job, ("indoor_c = 21.0", "indoor_c = 36.0")))
    assert len(design.tables["glazing_comfort"]) > 0
    assert design.tables["glazing_comfort"]["draught_rate_percent"].isna().all()
    assert not (design.checks["check"] == "draught from glazing").any()


def _drawing(folder: Path) -> str:
    ezdxf = pytest.importorskip("ezdxf")
    document = ezdxf.new()
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (0, 3000), (4000, 3000), (4000, 0)], close=True, dxfattribs={"layer": "ROOMS"})
    document.blocks.new("DOOR").add_line((0, 0), (840, 0))
    space.add_blockref("DOOR", (1000, 0), dxfattribs={"extrusion": (0, 0, -1)})
    document.saveas(folder / "good.dxf")
    return (folder / "good.dxf").read_text(encoding="utf-8")


def test_a_drawing_cut_short_anywhere_is_told_or_read(tmp_path: Path) -> None:
    from heatloop.survey.drawing.read_dxf import read_drawing

    text = _drawing(tmp_path)
    refusals: list[str] = []
    for size in [*range(0, 60, 3), *range(60, len(text), len(text) // 25)]:
        (tmp_path / "cut.dxf").write_text(text[:size], encoding="utf-8")
        try:
            read_drawing(tmp_path / "cut.dxf", "ROOMS")
        except InputError as error:
            refusals.append(str(error))
    assert len(refusals) > 20
    assert all(line.isprintable() for line in refusals)
    assert not [line for line in refusals if "StopIteration" in line or "division" in line]


def test_a_block_turned_to_nowhere_is_one_line_with_its_handle(tmp_path: Path) -> None:
    text = _drawing(tmp_path)
    assert "230\n-1.0\n" in text
    (tmp_path / "bad.dxf").write_text(text.replace("230\n-1.0\n", "230\n0.0\n"), encoding="utf-8")
    (line,) = refused("start", tmp_path / "new", "--drawing", tmp_path / "bad.dxf")
    assert "INSERT of handle" in line
    assert "found an entity that cannot be read; required: a complete drawing" in line


def test_an_outline_turned_to_nowhere_is_one_line_with_its_handle(tmp_path: Path) -> None:
    ezdxf = pytest.importorskip("ezdxf")
    document = ezdxf.new("R2000")
    corners = [(0, 0), (0, 3000), (4000, 3000), (4000, 0)]
    turned = {"layer": "ROOMS", "extrusion": (0, 0, -1)}
    document.modelspace().add_polyline2d(corners, close=True, dxfattribs=turned)
    document.saveas(tmp_path / "good.dxf")
    text = (tmp_path / "good.dxf").read_text(encoding="utf-8")
    assert "230\n-1.0\n" in text
    (tmp_path / "bad.dxf").write_text(text.replace("230\n-1.0\n", "230\n0.0\n"), encoding="utf-8")
    (line,) = refused("start", tmp_path / "new", "--drawing", tmp_path / "bad.dxf")
    assert "POLYLINE of handle" in line
    assert "found an entity that cannot be read" in line


def test_what_the_drawing_library_notes_stays_off_the_terminal(tmp_path: Path) -> None:
    text = _drawing(tmp_path)
    assert "\nLAYER\n" in text
    (tmp_path / "odd.dxf").write_text(text.replace("  0\nAPPID\n", "  0\nA\u202ePP\n", 1), encoding="utf-8")
    done = run("start", tmp_path / "new", "--drawing", tmp_path / "odd.dxf")
    assert len(done.stderr.splitlines()) == (0 if done.returncode == 0 else 1)
    assert done.stderr.replace("\n", "").isprintable()


@pytest.mark.parametrize("north", ["nan", "inf", "1e9"])
def test_a_north_that_is_no_bearing_is_one_line(north: str, tmp_path: Path) -> None:
    _drawing(tmp_path)
    (line,) = refused("start", tmp_path / "new", "--drawing", tmp_path / "good.dxf", "--north", north)
    assert "north: found" in line
    assert "required: a bearing in degrees" in line


def test_json_that_is_deep_huge_or_forged_is_told_or_compared(tmp_path: Path) -> None:
    good = write_json(tmp_path / "good.json", hl.size(MILL / "survey.toml").to_dict())
    deep, nested, huge = tmp_path / "deep.json", tmp_path / "nested.json", tmp_path / "huge.json"
    deep.write_text("[" * 100_000, encoding="utf-8")
    assert "nested too deeply" in refused("compare", good, deep)[0]
    held = json.loads(good.read_text(encoding="utf-8"))
    held["rooms"][0]["heat_to_rooms_w"] = [[1]]
    nested.write_text(json.dumps(held), encoding="utf-8")
    assert "lists or objects inside the rows" in refused("compare", good, nested)[0]
    held["rooms"][0]["heat_to_rooms_w"] = 10**4000
    huge.write_text(json.dumps(held), encoding="utf-8")
    done = answer("compare", good, huge)
    assert done.returncode in (0, 1, 2), done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="requires a shell that closes streams")
@pytest.mark.parametrize(
    ("words", "status"),
    [("size GOOD >&-", 1), ("size GOOD >/dev/full", 2), ("size nowhere 2>&-", 2), ("size nowhere 2>/dev/full", 2),
     ("size GOOD <&- >&- 2>&-", 1), ("report READY -o OUT --for check 2>&-", 0)],
)  # fmt: skip
def test_closed_and_full_streams(words: str, status: int, tmp_path: Path) -> None:
    words = words.replace("GOOD", str(DATA / "alder-lodge" / "draft.toml")).replace("OUT", str(tmp_path / "out"))
    words = words.replace("READY", str(MILL / "survey.toml"))
    done = subprocess.run(
        ["sh", "-c", f"exec {sys.executable} -m heatloop {words}"], cwd=ROOT, capture_output=True, text=True,
        timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr
    assert "Exception" not in done.stderr


@pytest.mark.parametrize("name", ["a\nheatloop: done.toml", "a\x1b[31m.toml", "a\u202e.toml", "a\r.toml"])
def test_a_file_name_forges_no_line(name: str, tmp_path: Path) -> None:
    for arguments in (
        ["size", tmp_path / name],
        ["size", MILL / "survey.toml", "--json", tmp_path / name / "x"],
        ["compare", tmp_path / f"{name}.json", MILL / "survey.toml"],
        ["price", MILL / "survey.toml", "--prices", tmp_path / name],
    ):
        assert len(refused(*arguments)) == 1
    done = answer("start", tmp_path / name)
    assert done.returncode == 0
    assert len(done.stdout.splitlines()) == 4
    assert done.stdout.replace("\n", "").isprintable()
    done = answer("size", MILL / "survey.toml", name)
    assert done.returncode == 2
    assert done.stderr.replace("\n", "").isprintable()


def test_cells_of_a_price_file_are_shown_escaped(tmp_path: Path) -> None:
    (tmp_path / "p.csv").write_text(
        f"{PRICES}x,\x1b[31mRED\x1b]0;pwn\x07,piece\n\x1b[2J,1,piece\u202e\n", encoding="utf-8"
    )
    lines = refused("price", MILL / "survey.toml", "--prices", tmp_path / "p.csv")
    assert len(lines) == 2
    assert "\\x1b[31mRED" in lines[0]


def test_a_fault_with_a_line_break_is_one_line() -> None:
    assert str(InputIssue("a\nb", "p\x1b", "f\u2028", "w")) == "a\\nb: p\\x1b: found f\\u2028; required: w"


@pytest.mark.parametrize("columns", [40, 60, 80, 100])
def test_results_fit_the_terminal(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    for folder in ("alder-lodge", "mill-annexe"):
        done = answer("size", DATA / folder / "survey.toml")
        assert max(map(len, done.stdout.splitlines())) <= columns
    rows = [{"room": "Kitchen " * 4, **{f"q{i}_w": 12345.0 for i in range(12)}}]
    columns_shown = [text_column("room", "Room"), *(number_column(f"q{i}_w", "Quantity", "W", 0) for i in range(12))]
    one = grid("Many", rows, columns_shown)
    with line_width(columns):
        lines = as_text(Summary("t", (), (one,))).splitlines()
    assert max(map(len, lines)) <= columns
    assert sum(line.count("12345") for line in lines) == 12


def test_start_on_a_full_disk_leaves_nothing_and_the_next_works(tmp_path: Path) -> None:
    pytest.importorskip("resource")
    limit = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))"
    limit = f"import sys; sys.dont_write_bytecode = True; {limit}"  # bytecode would be cut off after 1000 bytes too
    (line,) = refused("start", tmp_path / "new", code=limit)
    assert "a place that cannot be written to" in line
    assert list(tmp_path.iterdir()) == []
    assert answer("start", tmp_path / "new").returncode == 0
    assert len(list((tmp_path / "new").iterdir())) == 3
