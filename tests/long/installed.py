"""The package as users get it: built, installed in a fresh environment, with the oldest or the newest dependencies."""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import tomllib
import zipfile
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path

from tests.helpers.paths import ROOT
from tests.long.records import write_record

OLDEST = ROOT / "tests" / "constraints-oldest.txt"
SHORT = (
    "tests/published",
    "tests/unit/physics",
    "tests/unit/heat_loss",
    "tests/unit/survey",
    "tests/unit/workflows",
    "tests/unit/cli",
)
ALL_OURS = ("tests/unit", "tests/published", "heatloop")
"""All but the comparisons with other libraries, which pin versions of their own."""
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
"""Versions of Python that the package may be run by; its classifiers name those that it was run by."""
EXTRAS = "notebook,drawing,trace,cluster,docs"
"""All of the program's own."""
TOOLS = ("pytest", "hypothesis", "jsonschema", "websocket-client")
NEEDED = (".toml", ".csv", ".css", ".html", ".typed", ".ipynb", ".py", ".pyi")
"""Endings of files in the package that must be in what is installed."""


def oldest(arguments: list[str]) -> int:
    """The suite with the lowest versions that pyproject.toml allows, pinned in tests/constraints-oldest.txt."""
    return _suite("oldest", arguments, ("-c", str(OLDEST), "-e", f"{ROOT}[{EXTRAS}]", *TOOLS), ALL_OURS)


def newest(arguments: list[str]) -> int:
    """The suite with the newest versions that pip finds."""
    return _suite("newest", arguments, ("--upgrade", "--upgrade-strategy", "eager", "-e", f"{ROOT}[test]"), ())


def pythons(arguments: list[str]) -> int:
    """The suite, but for comparisons with other libraries, by every interpreter of PYTHONS that the machine has."""
    parser = argparse.ArgumentParser("python -m tests.long pythons")
    parser.add_argument("--short", action="store_true", help="a part of the suite")
    tests = SHORT if parser.parse_args(arguments).short else ALL_OURS
    found = {name: interpreter_of(name) for name in PYTHONS}
    codes = {name: _suite_by(python, tests) for name, python in found.items() if python}
    for name in PYTHONS:
        words = "not on this machine" if name not in codes else "failed" if codes[name] else "passed"
        print(f"Python {name}: {words}")
    if not any(codes.values()):
        passed, absent = list(codes), [name for name in PYTHONS if name not in codes]
        write_record("pythons", {"passed": passed, "absent": absent, "tests": tests})
    return max(codes.values(), default=1)


def interpreter_of(version: str) -> str | None:
    """The interpreter of this version on the path, or else among those of pyenv; None if none of them starts."""
    name = f"python{version}"
    kept = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv"), "versions")
    places = [shutil.which(name), *(str(path) for path in sorted(kept.glob(f"{version}.*/bin/{name}"), reverse=True))]
    return next((place for place in places if place and _starts(place)), None)


def _starts(interpreter: str) -> bool:
    """Whether it is a Python that runs, and not a placeholder for one."""
    try:
        return subprocess.run([interpreter, "-c", ""], capture_output=True, check=False).returncode == 0
    except OSError:
        return False


def _suite_by(interpreter: str, tests: Sequence[str]) -> int:
    """Exit code of the tests in a fresh environment of an interpreter."""
    with tempfile.TemporaryDirectory() as folder:
        python = fresh_environment(Path(folder), interpreter)
        _run([python, "-m", "pip", "install", "-q", "-e", f"{ROOT}[{EXTRAS}]", *TOOLS], Path(folder))
        return subprocess.run(
            [python, "-m", "pytest", "-q", *tests], cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False
        ).returncode


def _suite(name: str, arguments: list[str], options: Sequence[str], suite: tuple[str, ...]) -> int:
    parser = argparse.ArgumentParser(f"python -m tests.long {name}")
    parser.add_argument("--short", action="store_true", help="a part of the suite")
    tests = SHORT if parser.parse_args(arguments).short else suite
    with tempfile.TemporaryDirectory() as folder:
        python = fresh_environment(Path(folder))
        _run([python, "-m", "pip", "install", "-q", *options], Path(folder))
        code = subprocess.run(
            [python, "-m", "pytest", "-q", *tests], cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False
        ).returncode
        if code == 0:
            asked = "import sys, importlib.metadata as m; print(*(m.version(n) for n in sys.argv[1:]))"
            names = [one for one in _required() if one != "heatloop"]
            versions = _run([python, "-c", asked, *names], Path(folder)).split()
            write_record(
                name,
                {
                    "python": ".".join(map(str, sys.version_info[:3])),
                    "outcome": f"the tests of {', '.join(tests)} passed" if tests else "the whole suite passed",
                    "versions": dict(zip(names, versions, strict=True)),
                },
            )
    return code


def _required() -> list[str]:
    """Names of the libraries that the package needs."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [one.split(">=")[0] for one in project["dependencies"]]


def wheel(arguments: list[str]) -> int:
    """Build wheel and sdist, install the wheel outside the repository, and go from `start` to a report."""
    argparse.ArgumentParser("python -m tests.long wheel").parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        python = fresh_environment(place)
        _run([python, "-m", "pip", "install", "-q", "build"], place)
        _run([python, "-m", "build", "--outdir", str(place / "dist"), str(copied_sources(place))], place)
        lacking = not_packed(place / "dist")
        if lacking:
            print("\n".join(lacking), file=sys.stderr)
            return 1
        (built,) = (place / "dist").glob("*.whl")
        _run([python, "-m", "pip", "install", "-q", f"{built}[notebook]"], place)
        command = str(Path(python).with_name("heatloop"))
        _run([command, "start", "job"], place)
        _run([command, "size", "job/survey.toml"], place, (0, 1))
        _run([command, "report", "job/survey.toml", "-o", "report"], place, (0, 1))
        assert any((place / "report").rglob("*_design-report.html")), "no design report"
    write_record("wheel", {"version": version("heatloop"), "python": ".".join(map(str, sys.version_info[:3]))})
    print(f"wheel {version('heatloop')}: built, installed, a job started, sized and reported")
    return 0


def fresh_environment(place: Path, interpreter: str = sys.executable) -> str:
    """The interpreter of a new virtual environment that knows nothing of this repository."""
    _run([interpreter, "-m", "venv", str(place / "environment")], place)
    return str(place / "environment" / "bin" / "python")


def copied_sources(place: Path) -> Path:
    """The files that git has or would take, in another place: building leaves folders behind."""
    names = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        check=True,
    ).stdout.decode()
    for name in filter(None, names.split("\0")):
        if (ROOT / name).is_file():
            target = place / "sources" / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes((ROOT / name).read_bytes())
    return place / "sources"


def not_packed(folder: Path) -> list[str]:
    """Files of the package that the wheel or the sdist in a folder lacks."""
    (built,), (source,) = folder.glob("*.whl"), folder.glob("*.tar.gz")
    in_wheel = {name.split("data/share/heatloop/")[-1] for name in zipfile.ZipFile(built).namelist()}
    with tarfile.open(source) as archive:
        in_source = {name.split("/", 1)[-1] for name in archive.getnames()}
    required = [
        path.relative_to(ROOT).as_posix()
        for start in ("heatloop", "notebooks")
        for path in (ROOT / start).rglob("*")
        if path.suffix in NEEDED or path.name == "py.typed"
    ]
    required = [name for name in required if "checkpoint" not in name]
    return [
        f"{kind}: {name}"
        for kind, held in (("wheel", in_wheel), ("sdist", in_source))
        for name in required
        if name not in held
    ]


def _run(command: Sequence[str], place: Path, codes: tuple[int, ...] = (0,)) -> str:
    """Run a command outside the repository; AssertionError with what it printed where it ends otherwise."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(command, cwd=place, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode in codes, f"{' '.join(command)}: {done.returncode}\n{done.stdout}{done.stderr}"
    return done.stdout
