"""The page of long runs is written from what they kept, and every run can be called."""

import ast
import itertools
import re
import sys
import tomllib

import pytest

from tests.helpers.paths import ROOT
from tests.long import installed
from tests.long.__main__ import COMMANDS, main
from tests.long.installed import OLDEST
from tests.long.mutants import edit, mutants_of, mutated
from tests.long.mutation import MAX_EQUIVALENT, PACKAGES, _Outcome, equivalent
from tests.long.mutation_run import altered_functions, quickest
from tests.long.order import shuffled
from tests.long.page import PAGE, SECTIONS, reliability_page
from tests.long.records import RECORDS, read_record

LOWEST = r"([\w-]+)(?:\[\w+\])?>=([\d.]+)"
"""A requirement with the lowest version that it allows."""


def three(version):
    """The three numbers of a version, 0 where it ends before."""
    return tuple(map(int, f"{version}.0.0".split(".")[:3]))


def test_the_page_is_what_the_last_runs_kept():
    assert PAGE.read_text(encoding="utf-8") == reliability_page(), "run python -m tests.long page and read the change"


def test_every_record_has_a_section_and_a_command():
    kept = {path.stem for path in RECORDS.iterdir()}
    assert kept <= set(SECTIONS)
    assert set(SECTIONS) <= set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_each_run_tells_what_it_takes(name, capsys):
    with pytest.raises(SystemExit) as ended:
        main([name, "--help"])
    assert ended.value.code == 0
    assert name in capsys.readouterr().out


def test_an_unknown_run_is_refused():
    assert main(["fly"]) == 2


def test_each_lowest_version_of_the_package_is_pinned_for_its_run():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = (
        project["optional-dependencies"][name] for name in ("notebook", "drawing", "trace", "cluster", "study", "docs")
    )
    named = (one for one in itertools.chain(project["dependencies"], *extras) if not one.startswith("heatloop["))
    lowest = dict(re.match(LOWEST, one).groups() for one in named)
    pinned = dict(line.split("==") for line in OLDEST.read_text(encoding="utf-8").split("\n") if "==" in line)
    assert {name: three(version) for name, version in pinned.items()} == {
        name: three(version) for name, version in lowest.items()
    }


def test_classifiers_name_versions_of_python_that_were_run():
    """The version of the ordinary run, and those of the last run by all interpreters."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    python = "Programming Language :: Python :: 3."
    named = {one.removeprefix(python) for one in project["classifiers"] if one.startswith(python)}
    run = {project["requires-python"].removeprefix(">=3.")}
    run |= {version.removeprefix("3.") for version in read_record("pythons").get("figures", {}).get("passed", [])}
    assert named == run


def test_a_version_that_the_machine_has_not_is_named(monkeypatch, capsys):
    monkeypatch.setattr(installed, "interpreter_of", {"3.12": "/there"}.get)
    monkeypatch.setattr(installed, "_suite_by", lambda interpreter, tests: 1)
    assert installed.pythons(["--short"]) == 1
    told = capsys.readouterr().out.splitlines()
    absent = [f"Python {one}: not on this machine" for one in installed.PYTHONS if one != "3.12"]
    assert sorted(told) == sorted(["Python 3.12: failed", *absent])


def test_an_interpreter_is_one_that_starts(monkeypatch, tmp_path):
    """A placeholder on the path is left out, and one of pyenv is taken."""
    placeholder = tmp_path / "python3.12"
    placeholder.write_text("#!/bin/sh\nexit 127\n", encoding="utf-8")
    placeholder.chmod(0o755)
    monkeypatch.setenv("PYENV_ROOT", str(tmp_path))
    monkeypatch.setattr(installed.shutil, "which", {"python3.12": str(placeholder)}.get)
    assert installed.interpreter_of("3.12") is None
    kept = tmp_path / "versions" / "3.12.1" / "bin" / "python3.12"
    kept.parent.mkdir(parents=True)
    kept.symlink_to(sys.executable)
    assert installed.interpreter_of("3.12") == str(kept)
    assert installed.interpreter_of("3.11") is None


SOURCE = """
def half(a, b=0.0):
    \"\"\"Half of 2.\"\"\"
    if not a or a < -1:
        raise ValueError(f"{a + 1}", 3)
    return pow(a, b) / 2 if b else max(a, b)
"""


def test_mutants_are_each_one_edit_that_calculates(tmp_path):
    path = tmp_path / "half.py"
    path.write_text(SOURCE, encoding="utf-8")
    found = mutants_of(path, tmp_path)
    assert {(one.before, one.after) for one in found} >= {
        ("0.0", "1.0"),
        ("a < -1", "a <= -1"),
        ("-1", "+1"),
        ("pow(a, b) / 2", "pow(a, b) * 2"),
        ("pow(a, b)", "pow(b, a)"),
        ("not a or a < -1", "not a and a < -1"),
        ("pow(a, b) / 2 if b else max(a, b)", "max(a, b) if b else pow(a, b) / 2"),
    }
    assert not [one for one in found if "a + 1" in one.before or one.before in ("3", "max(a, b)")]
    assert len({one.key for one in found}) == len(found)
    texts = {ast.unparse(mutated(SOURCE, one)) for one in found}
    assert len(texts) == len(found)


CONSTANT = """
LEAST = 2

class Pair:
    high: int = 3

    def least(self, a=4):
        return [max(a, LEAST) + 1 for _ in range(2)]
"""


def test_a_mutant_in_a_function_alters_that_alone_and_one_outside_needs_all_read_anew(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "pair.py"
    path.write_text(CONSTANT, encoding="utf-8")
    names: dict = {}
    exec(compile(CONSTANT, str(path), "exec"), names)
    for mutant in mutants_of(path, tmp_path):
        codes = altered_functions(mutant)
        if mutant.before in ("2", "3", "4") and mutant.function in ("module", "least") and mutant.line < 8:
            assert codes is None, mutant.key
            continue
        ((file, _, name), code), *others = codes.items()
        assert (file, name, others) == (str(path), "Pair.least", [])
        names["Pair"].least.__code__ = code
        assert names["Pair"]().least() != [5, 5], mutant.key


def test_a_greater_count_adds_mutants_and_what_was_noticed_stays(monkeypatch):
    few, many = (_Outcome.of("layout", count, 1, None, True) for count in (5, 9))
    assert list(many.drawn)[:5] == list(few.drawn)
    first = next(iter(few.drawn))
    kept = {"figures": {"layout": {"seed": 1, "seconds": 0.5, "noticed": f"{first} 0000000000"}}}
    monkeypatch.setattr("tests.long.mutation.read_record", lambda name: kept)
    again = _Outcome.of("layout", 5, 1, None, False)
    assert set(again.waiting()) == set(few.drawn) - {first}
    again.add({"digest": list(few.drawn)[1], "by": None, "seconds": 0.1})
    again.add({"digest": list(few.drawn)[2], "by": "a test", "seconds": 0.1})
    assert len(again.survivors) == 1
    assert len(again.noticed) == 2
    assert set(_Outcome.of("layout", 5, 2, None, False).noticed) == set(), "another seed begins anew"


def test_the_quickest_tests_take_a_share_of_the_time_of_all():
    seconds = {"slow": 6.0, "quick": 1.0, "middling": 3.0}
    assert quickest(seconds, 0.35) == {"quick", "middling"}
    assert quickest(seconds, 0.05) == {"quick"}
    assert quickest(seconds, 1.0) == set(seconds)
    assert quickest({}, 0.5) == set()


def test_another_order_keeps_each_file_together_and_is_that_of_its_seed():
    items, files = list(range(40)), [f"file {n % 5}" for n in range(40)]
    found = shuffled(items, files, 3)
    assert sorted(found) == items
    assert found == shuffled(items, files, 3)
    assert found != shuffled(items, files, 4)
    named = [files[item] for item in found]
    assert [a == b for a, b in itertools.pairwise(named)].count(False) == 4
    assert named != sorted(named)
    assert all(own != sorted(own) for own in (found[start : start + 8] for start in range(0, 40, 8)))


def test_every_package_has_modules_and_tests():
    for package in PACKAGES.values():
        assert package.paths()
        assert all((ROOT / name).exists() for name in package.tests)


def test_records_of_mutants_add_up_and_meet_their_aims():
    for name, one in read_record("mutation")["figures"].items():
        survivors = len(one["survivors"])
        assert one["tried"] == one["killed"] + survivors + one["equivalent"], name
        assert one["killed"] == len(one["noticed"].split()), name
        assert one["killed"] >= PACKAGES[name].aim * (one["killed"] + survivors), name
        assert one["equivalent"] <= max(2.0, MAX_EQUIVALENT * one["tried"]), name


def test_equivalent_mutants_are_there_and_have_their_reason():
    reasons = equivalent()
    assert all(reasons.values())
    named = {key.split("::")[0] for key in reasons}
    there = {one.key for name in named for one in mutants_of(ROOT / name, ROOT)}
    assert set(reasons) <= there


def test_nothing_is_changed_where_nothing_calculates():
    assert not edit(ast.parse("x = 'text'").body[0])
