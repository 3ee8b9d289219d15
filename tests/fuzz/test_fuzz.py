"""A short fixed part of the fuzz test; the long part is `python -m tests.fuzz --minutes 8`."""

import random
import tomllib

import pytest

from tests.fuzz import targets
from tests.fuzz.mutations import altered_tables, toml_text
from tests.fuzz.targets import TARGETS, fault_of, run
from tests.fuzz.values import altered_values

COUNTS = {"survey": 250, "catalogue": 250, "year": 150, "readings": 300, "prices": 400, "drawing": 60,
          "two rooms, sized": 50, "nine rooms, sized": 20, "catalogue, two rooms sized": 50}  # fmt: skip


@pytest.mark.parametrize("target", TARGETS, ids=[target.name for target in TARGETS])
def test_a_good_file_is_read(target, tmp_path):
    path = tmp_path / f"good.{target.ending}"
    path.write_text(target.good(), encoding="utf-8")
    (tmp_path / "catalogue.toml").write_bytes((target.job / "catalogue.toml").read_bytes())
    assert fault_of(target, target.good(), tmp_path) is None
    target.read(path)  # no refusal either


@pytest.mark.parametrize("name", COUNTS)
def test_altered_files_are_read_or_told_in_plain_lines(name):
    tally = run(20_250, lambda count: count >= COUNTS[name], (name,))
    assert tally.tried == {name: COUNTS[name]}
    assert not [(wrong, text[:300]) for _, wrong, text in tally.found]


def test_a_reader_that_breaks_is_seen(tmp_path):
    broken = TARGETS[3].__class__("prices", "csv", lambda: "", lambda path: 1 / 0)
    assert fault_of(broken, "x", tmp_path) == "ZeroDivisionError: division by zero"


@pytest.mark.parametrize("case", sorted(targets.CASES.iterdir()), ids=lambda case: case.stem)
def test_what_once_broke_the_program_is_read_or_told_in_plain_lines(case, tmp_path):
    (target,) = (target for target in TARGETS if case.stem.split(" - ")[0] == target.name)
    assert fault_of(target, case.read_text(encoding="utf-8"), tmp_path) is None


def test_a_design_that_does_not_balance_is_seen(monkeypatch, tmp_path):
    monkeypatch.setattr(targets, "worst_residual", lambda design: 2e-9)
    assert fault_of(TARGETS[6], TARGETS[6].good(), tmp_path) == "AssertionError: a residual of 2.0e-09"


def test_altered_values_keep_the_structure_of_most_files():
    draw = random.Random(3)
    tables = tomllib.loads(TARGETS[6].good())
    altered = [altered_values(tables, draw) for _ in range(40)]
    assert sum(one != tables for one in altered) >= 30
    assert sum(one.keys() == tables.keys() for one in altered) >= 36


def test_altered_tables_are_toml_again():
    draw = random.Random(5)
    tables = tomllib.loads(TARGETS[0].good())
    texts = {toml_text(altered_tables(tables, draw)) for _ in range(30)}
    assert len(texts) == 30
    assert sum(isinstance(tomllib.loads(text), dict) for text in texts) == 30
