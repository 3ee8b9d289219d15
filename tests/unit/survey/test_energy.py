"""A year file: values as read, and every fault in a line of its own."""

from __future__ import annotations

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.energy.model import SourcePerformance, WeatherBin
from heatloop.survey.read import read_year
from tests.helpers.paths import DATA

TEXT = """
name = "test"
origin = "test"
currency = "EUR"
price_per_kwh = 0.3
bin = [{ outdoor_c = 0, hours = 100 }, { outdoor_c = -5.0, hours = 10.5 }]
performance = [
  { outdoor_c = -5.0, flow_temp_c = 35.0, efficiency = 2.5, capacity_kw = 5.0 },
  { outdoor_c = 7.0, flow_temp_c = 35.0, efficiency = 4.5, capacity_kw = 6.0 },
]
"""


def read(tmp_path, text):
    file = tmp_path / "year.toml"
    file.write_text(text, encoding="utf-8")
    return read_year(file)


def faults(tmp_path, *changes):
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    return [line.removeprefix(f"{tmp_path / 'year.toml'}: ") for line in str(caught.value).splitlines()]


def test_a_year_file_is_read_as_it_is_written(tmp_path):
    year = read(tmp_path, TEXT)
    assert (year.name, year.currency, year.price_per_kwh) == ("test", "EUR", 0.3)
    assert year.bins == (WeatherBin(0.0, 100.0), WeatherBin(-5.0, 10.5))
    assert year.performance[1] == SourcePerformance(7.0, 35.0, 4.5, 6.0)
    assert (year.base_c, year.degradation, year.backup_efficiency, year.standby_w) == (None, 1.0, None, 0.0)


@pytest.mark.parametrize("demo", ["alder-lodge", "mill-annexe"])
def test_the_demo_files_state_that_they_are_invented(demo):
    file = DATA / demo / "year.toml"
    assert file.read_text(encoding="utf-8").startswith("# Invented: ")
    assert "invented" in read_year(file).name


def test_all_faults_are_listed_at_once(tmp_path):
    lines = faults(
        tmp_path,
        ('currency = "EUR"', "currencie = 3"),
        ("price_per_kwh = 0.3", 'price_per_kwh = "0.3"'),
        ("outdoor_c = 0,", "outdoor_c = -5,"),
        ("hours = 10.5", "hours = 9000"),
        ("efficiency = 4.5, capacity_kw = 6.0", "efficiency = 0.0"),
    )
    assert lines == [
        "price_per_kwh: found the text '0.3'; required: a number in the currency of the file, at least 0; "
        "0.3 without quotes",
        "bin 2, hours: found 9000; required: a number in hours, at least 0 and at most 8784",
        "performance 2, efficiency: found 0.0; required: a number, more than 0 and at most 20",
        'found the key "currencie"; required: the key "currency"',
        "bin 2, outdoor_c: found -5 °C again, as in number 1; required: each temperature once",
        "performance 2, capacity_kw: found nothing; required: a capacity, as in other rows, or in none",
    ]


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("hours = 100", "hours = 8780",
         "bin: found 8790.5 hours together; required: more than 0 and at most 8784, those of a year"),
        ("outdoor_c = 7.0, flow_temp_c = 35.0", "outdoor_c = 7.0, flow_temp_c = 45.0",
         "performance: found no row for outdoor -5 °C, flow 45 °C; "
         "required: a row for every pair of its outdoor and flow temperatures"),
        ("outdoor_c = 7.0,", "outdoor_c = -5.0,",
         "performance 2: found outdoor -5 °C, flow 35 °C again, as in number 1; "
         "required: each pair of temperatures once"),
        ("price_per_kwh = 0.3", "price_per_kwh = 0.3\nbackup_price_per_kwh = 0.2",
         "backup_price_per_kwh: found a price of a backup; required: backup_efficiency beside it"),
    ],
)  # fmt: skip
def test_what_keys_contradict_in_each_other(tmp_path, old, new, line):
    assert faults(tmp_path, (old, new))[0] == line


def test_a_missing_file_is_one_line(tmp_path):
    with pytest.raises(InputError, match=r"nowhere\.toml: found no such file; required: the path of a TOML file"):
        read_year(tmp_path / "nowhere.toml")
