"""A short fixed part of the fuzz test; the long part is `python -m tests.fuzz --minutes 8`."""

import random
import tomllib

import pytest

from tests.fuzz.mutations import altered_tables, toml_text
from tests.fuzz.targets import TARGETS, fault_of, run

COUNTS = {"survey": 250, "catalogue": 250, "year": 150, "readings": 300, "prices": 400, "drawing": 60}


@pytest.mark.parametrize("target", TARGETS, ids=[target.name for target in TARGETS])
def test_a_good_file_is_read(target, tmp_path):
    path = tmp_path / f"good.{target.ending}"
    path.write_text(target.good(), encoding="utf-8")
    if target.name == "survey":
        path = path.parent / "survey.toml"
        path.write_text(target.good(), encoding="utf-8")
        (tmp_path / "catalogue.toml").write_text(TARGETS[1].good(), encoding="utf-8")
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


def test_altered_tables_are_toml_again():
    draw = random.Random(5)
    tables = tomllib.loads(TARGETS[0].good())
    texts = {toml_text(altered_tables(tables, draw)) for _ in range(30)}
    assert len(texts) == 30
    assert sum(isinstance(tomllib.loads(text), dict) for text in texts) == 30
