"""A survey of two loops without skirting: an old radiator upstairs and a towel rail."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.paths import HARBOUR_LOFT

CATALOGUE = HARBOUR_LOFT / "catalogue.toml"
SURVEY = """
[project]
name = "Two old pieces"
outdoor_c = -3.0
flow_temp_c = 55.0
delta_t_k = 8.0
catalogue = "catalogue.toml"
[[room]]
name = "Office"
level_m = 3.0
indoor_c = 20.0
heat_loss_w = 300
heat_loss_source = "the engineer"
[[room]]
name = "Bath"
indoor_c = 22.0
heat_loss_w = 150
heat_loss_source = "the engineer"
[source]
kind = "boiler"
output_kw = 8.0
pump = { flow_m3_h = [0.0, 0.5, 1.0], head_kpa = [30, 25, 10] }
[[loop]]
name = "Radiator"
tails = { pipe = "copper 15", length_m = 6.0 }
valves = { flow = "thermostatic 15", return = "lockshield 15" }
sensor_room = "Office"
emitters = [{ emitter = "old radiator", room = "Office", existing = true }]
[[loop]]
name = "Rail"
tails = { pipe = "copper 15", flow_m = 6.0, return_m = 7.0 }
valves = { return = "lockshield 15" }
emitters = [{ emitter = "towel rail", room = "Bath" }]
"""


def written(folder: Path, survey: str = SURVEY) -> Path:
    """A folder with this survey and the tests' catalogue."""
    (folder / "catalogue.toml").write_text(CATALOGUE.read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "survey.toml").write_text(survey, encoding="utf-8")
    return folder / "survey.toml"
