"""The command line: exit status, one line a fault, quiet pipes, help that teaches."""

from __future__ import annotations

import json
import os
import shutil
import signal
import stat
import subprocess
import sys
import threading
import time
from pathlib import Path

import pandas as pd
import pytest

import heatloop as hl
from heatloop import __main__ as cli
from heatloop.cli.main import COMMANDS, parser
from heatloop.report.files.export import json_text, write_json
from heatloop.text.summary import line_width
from tests.helpers.command_line import answer
from tests.helpers.paths import DATA, ROOT
from tests.helpers.patience import SURELY_S

ALDER, MILL = DATA / "alder-lodge" / "draft.toml", DATA / "mill-annexe" / "survey.toml"


def run(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """The command line in a process of its own."""
    command = [sys.executable, "-m", "heatloop", *arguments]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, timeout=SURELY_S, check=False)


def test_size_prints_and_writes_the_same_answers_as_the_library(mill_annexe: hl.Design, tmp_path: Path) -> None:
    done = run("size", str(MILL), "--json", str(tmp_path / "d.json"))
    design = mill_annexe
    assert done.returncode == (1 if design.summary["checks_failed"] else 0)
    assert done.stderr == ""
    assert "\x1b" not in done.stdout
    assert f"{design.loops['flow_l_h'].iloc[0]:.0f}" in done.stdout
    exported = json.loads((tmp_path / "d.json").read_text(encoding="utf-8"))
    assert exported == json.loads(json_text(design.to_dict()))


def test_a_design_that_fails_a_check_exits_1(alder_draft: hl.Design, capsys: pytest.CaptureFixture[str]) -> None:
    failed = alder_draft.summary["checks_failed"]
    status = cli.main(["size", str(ALDER)])
    told = capsys.readouterr()
    assert failed > 0, "the demo is meant to fail a check"
    assert status == 1
    assert told.err == ""
    assert "Failed checks" in told.out
    assert " ".join(told.out.split()).startswith(
        "Alder Lodge: flow temperature 50.0 °C, outdoor temperature -3.0 °C Not ready for installation: Kitchen-diner "
        "receives 150 W less than its heat loss plus back loss. "
    )


def test_wrong_input_exits_2_with_a_line_for_each_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = MILL.read_text(encoding="utf-8").replace("outdoor_c = -4.0", 'outdoor_c = "cold"')
    text = text.replace("indoor_c = 21.0", "indoor_c = nan")
    (tmp_path / "survey.toml").write_text(text, encoding="utf-8")
    (tmp_path / "catalogue.toml").write_bytes((MILL.parent / "catalogue.toml").read_bytes())
    assert cli.main(["size", str(tmp_path / "survey.toml")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    lines = told.err.splitlines()
    assert len(lines) == 2
    assert all(line.startswith("heatloop: ") and "survey.toml: " in line for line in lines)
    assert "outdoor_c" in lines[0]
    assert "indoor_c" in lines[1]


@pytest.mark.parametrize(
    "arguments",
    [
        ["size", "nowhere.toml"],
        ["report", "nowhere.toml", "-o", "out"],
        ["simulate", "nowhere.toml"],
        ["compare", "nowhere.toml", "nowhere.toml"],
        ["compare", "nowhere.json", "nowhere.toml"],
        ["price", "nowhere.toml", "--prices", "prices.csv"],
    ],
)
def test_a_missing_file_exits_2_with_one_line(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli.main(arguments) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert "nowhere." in told
    assert list(tmp_path.iterdir()) == []


def test_a_json_file_that_cannot_be_written_exits_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["size", str(MILL), "--json", str(tmp_path / "no" / "d.json")]) == 2
    told = capsys.readouterr()
    assert told.err.count("\n") == 1
    assert "No such file" in told.err


def test_a_place_for_json_is_tried_before_the_work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(survey: object) -> None:
        raise AssertionError("sized though the answers have no place to go")

    monkeypatch.setattr("heatloop.workflows.design.size", never)
    for place in (tmp_path / "no" / "d.json", tmp_path):
        assert cli.main(["size", str(MILL), "--json", str(place)]) == 2
    assert list(tmp_path.iterdir()) == []


def test_json_to_a_dash_is_all_that_is_printed(mill_annexe: hl.Design) -> None:
    done = answer("size", MILL, "--json", "-")
    assert json.loads(done.stdout) == json.loads(json_text(mill_annexe.to_dict()))


def test_a_link_stays_a_link_and_what_it_names_is_replaced(tmp_path: Path) -> None:
    kept = tmp_path / "kept.json"
    kept.write_text("old", encoding="utf-8")
    link = tmp_path / "link.json"
    link.symlink_to("kept.json")
    write_json(link, {"a": 1})
    assert link.is_symlink()
    assert json.loads(kept.read_text(encoding="utf-8")) == {"a": 1}
    assert sorted(path.name for path in tmp_path.iterdir()) == ["kept.json", "link.json"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="requires named pipes")
def test_a_pipe_is_written_to_and_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    heard: list[str] = []
    reader = threading.Thread(target=lambda: heard.append(pipe.read_text(encoding="utf-8")))
    reader.start()
    write_json(pipe, {"a": 1})
    reader.join(timeout=SURELY_S)
    assert json.loads(heard[0]) == {"a": 1}
    assert stat.S_ISFIFO(pipe.stat().st_mode)


@pytest.mark.skipif(not Path("/dev/stdout").exists(), reason="requires /dev/stdout")
def test_devices_are_written_to_and_not_replaced(mill_annexe: hl.Design, tmp_path: Path) -> None:
    devices = [Path("/dev/stdout"), Path("/dev/null")]
    before = [os.lstat(device) for device in devices]
    with line_width(80):
        printed = str(hl.size(MILL)) + "\n"
    assert run("size", str(MILL), "--json", "/dev/null").stdout == printed
    with (tmp_path / "all.txt").open("w", encoding="utf-8") as file:
        command = [sys.executable, "-m", "heatloop", "size", str(MILL), "--json", "/dev/stdout"]
        subprocess.run(command, cwd=ROOT, stdout=file, timeout=SURELY_S, check=True)
    told = (tmp_path / "all.txt").read_text(encoding="utf-8")
    assert told.startswith("{")
    assert told.endswith(printed)
    assert all(os.path.samestat(was, os.lstat(device)) for was, device in zip(before, devices, strict=True))


SWALLOWED = "    try:\n        print('begun', flush=True); time.sleep(30)\n    except BaseException:\n        pass\n"
IN_A_FINALISER = (
    "    class Held:\n        def __del__(self): print('begun', flush=True); time.sleep(30)\n"
    "    held = Held(); del held\n"
)


@pytest.mark.skipif(not hasattr(signal, "SIGALRM"), reason="no alarm signal on this system")
@pytest.mark.parametrize("begins", [SWALLOWED, IN_A_FINALISER])
def test_ctrl_c_is_answered_where_it_does_not_pass(begins: str) -> None:
    """Where some code catches every exception, and where Python can pass none on."""
    code = (
        "import sys, time, heatloop.__main__ as m, heatloop.cli.main as commands\n"
        f"def work(arguments):\n{begins}"
        "    for _ in range(600): time.sleep(0.1)\n    return 0\n"
        "commands.run = work\nsys.exit(m.main([]))"
    )
    running = subprocess.Popen(
        [sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert running.stdout is not None
    assert running.stdout.readline() == "begun\n"
    running.send_signal(signal.SIGINT)
    told = running.communicate(timeout=SURELY_S)[1]
    assert (running.returncode, told) == (130, "heatloop: interrupted; no file was changed\n")


@pytest.mark.parametrize("after_s", [0.05, 0.2, 0.6, 1.5])
def test_ctrl_c_at_any_moment_is_one_line(after_s: float, tmp_path: Path) -> None:
    """From the moment in which the program itself has begun; before it Python starts, and answers as Python does."""
    code = "import sys, heatloop.__main__ as m; print('begun', flush=True); sys.exit(m.main(sys.argv[1:]))"
    running = subprocess.Popen(
        [sys.executable, "-c", code, "report", str(MILL), "-o", str(tmp_path / "out")],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    assert running.stdout is not None
    assert running.stdout.readline() == "begun\n"
    time.sleep(after_s)
    os.killpg(running.pid, signal.SIGINT)
    told = running.communicate(timeout=SURELY_S)[1]
    assert (running.returncode, told) == (130, "heatloop: interrupted; no file was changed\n")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("fault", "status", "words"),
    [(KeyboardInterrupt(), 130, "interrupted"), (RuntimeError("two\nlines"), 3, "RuntimeError: two lines")],
)
def test_no_traceback_ever(
    fault: BaseException, status: int, words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(survey: object) -> None:
        raise fault

    monkeypatch.setattr("heatloop.workflows.size.size_survey", broken)
    assert cli.main(["size", str(MILL)]) == status
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert words in told.err


def test_help_teaches_by_example_and_tells_the_exit_status(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        cli.main(["--help"])
    assert stopped.value.code == 0
    told = capsys.readouterr().out
    assert max(map(len, told.splitlines())) <= 110
    for words in ("heatloop size survey.toml", "heatloop report survey.toml -o report", "exit status", "  3  "):
        assert words in told
    for command in COMMANDS:
        assert f"heatloop {command.name} " in told
        assert command.examples
        for example in command.examples:
            assert example.startswith(f"heatloop {command.name} ")
            parser().parse_args(example.split()[1:])


@pytest.mark.parametrize("command", [command.name for command in COMMANDS])
def test_each_command_has_help_with_examples(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        cli.main([command, "--help"])
    assert stopped.value.code == 0
    told = capsys.readouterr().out
    assert f"examples:\n  heatloop {command} " in told
    assert max(map(len, told.splitlines())) <= 110


def _cooler(folder: Path) -> Path:
    shutil.copytree(MILL.parent, folder)
    text = MILL.read_text(encoding="utf-8")
    old = next(line for line in text.splitlines() if line.startswith("flow_temp_c")).partition("#")[0].rstrip()
    (folder / "survey.toml").write_text(text.replace(old, "flow_temp_c = 58.0"), encoding="utf-8")
    return folder / "survey.toml"


def test_compare_takes_surveys_and_written_designs(
    mill_annexe: hl.Design, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cooler = _cooler(tmp_path / "job")
    design = mill_annexe
    written = write_json(tmp_path / "before.json", design.to_dict())
    assert cli.main(["compare", str(written), str(MILL)]) == (1 if design.summary["checks_failed"] else 0)
    assert "No differences." in capsys.readouterr().out
    cli.main(["compare", str(written), str(cooler)])
    told = capsys.readouterr()
    assert told.err == ""
    flow = next(line for line in told.out.splitlines() if line.startswith("Flow temp"))
    assert flow.split()[-2:] == ["58.0", f"{58.0 - design.summary['flow_temp_c']:+.1f}"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "a file that is not JSON"),
        ("[1]", "other JSON"),
        ('{"schema_version": 2, "summary": {}, "rooms": [], "loops": [], "checks": []}', "other JSON"),
        ('{"schema_version": 99, "summary": {"checks_failed": 0}, "rooms": [], "loops": [], "checks": []}', "found 99"),
    ],
)
def test_a_design_that_cannot_be_read_back_is_one_line(
    text: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "d.json").write_text(text, encoding="utf-8")
    assert cli.main(["compare", str(tmp_path / "d.json"), str(MILL)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert words in told.err


def test_rate_says_what_the_library_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    required = hl.simulate(MILL, outdoor_c=6.0, flow_temp_c=41.0, settings="calculated", thermostats=False)
    status = cli.main(
        ["simulate", str(MILL), "--outdoor", "6", "--flow-temp", "41", "--calculated-settings",
         "--without-thermostats", "--json",
         str(tmp_path / "r.json")]
    )  # fmt: skip
    told = capsys.readouterr()
    assert told.err == ""
    assert status == (1 if required.summary["rooms_below_temperature"] else 0)
    assert "outdoor temperature 6.0 °C" in " ".join(told.out.split())
    assert f"{required.rooms['heat_to_rooms_w'].iloc[0]:.0f}" in told.out
    assert json.loads((tmp_path / "r.json").read_text(encoding="utf-8")) == json.loads(json_text(required.to_dict()))


def test_rate_of_a_loop_that_is_not_there_names_those_that_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["simulate", str(MILL), "--isolate", "Nowhere"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "Nowhere" in told.err
    assert hl.read_survey(MILL).loops[0].name in told.err


def test_price_prints_totals_and_writes_the_lines(
    mill_annexe: hl.Design, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    prices = ALDER.parent / "prices.csv"
    quotation = mill_annexe.parts().price(prices)
    status = cli.main(["price", str(MILL), "--prices", str(prices), "--csv", str(tmp_path / "q.csv")])
    told = capsys.readouterr()
    assert told.err == ""
    assert quotation.missing
    assert status == 0
    assert told.out.splitlines()[0] == mill_annexe.verdict.headline
    assert f"Order: {quotation.summary['order_cost']:.2f} {quotation.currency}" in told.out
    assert all(item in " ".join(told.out.split()) for item in quotation.missing)
    lines = pd.read_csv(tmp_path / "q.csv")
    assert lines["order_cost"].sum() == pytest.approx(quotation.summary["order_cost"])


def test_start_gives_a_survey_that_runs_and_overwrites_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "house"
    assert cli.main(["start", str(folder)]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[-1] == f"next: heatloop size {folder / 'survey.toml'}"
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert len(before) == len(told) - 1
    assert cli.main(["size", str(folder / "survey.toml")]) in (0, 1)
    capsys.readouterr()
    assert cli.main(["start", str(folder)]) == 2
    assert "survey.toml" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


@pytest.mark.parametrize("arguments", [[], ["fly"], ["size"], ["report", "survey.toml"]])
def test_a_wrong_command_exits_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        cli.main(arguments)
    assert stopped.value.code == 2
    assert "usage:" in capsys.readouterr().err


def test_a_reader_that_goes_away_is_no_fault() -> None:
    command = f"'{sys.executable}' -m heatloop size '{MILL}' | head -c 1 > /dev/null; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(
        ["bash", "-c", command], cwd=ROOT, capture_output=True, text=True, timeout=SURELY_S, check=False
    )
    assert done.stderr == ""
    assert done.stdout.strip() in ("0", "1")


def test_importing_the_package_and_help_bring_no_heavy_parts() -> None:
    heavy = ("numpy", "pandas", "scipy", "pydantic", "CoolProp", "matplotlib", "openpyxl", "nbclient", "IPython")
    code = f"import sys, heatloop, heatloop.cli.main as m; m.parser(); print([n for n in {heavy} if n in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "[]", done.stderr


def test_every_public_name_comes_when_asked_for_and_no_module_takes_its_place() -> None:
    code = (
        "import heatloop.workflows.operating_point, heatloop as hl; "
        "print(all(getattr(hl, n) is not None and n in dir(hl) for n in hl.__all__), callable(hl.simulate))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "True True", done.stderr
    with pytest.raises(AttributeError, match="no attribute 'sise'"):
        hl.sise  # noqa: B018
