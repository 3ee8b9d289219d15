"""What the heat loss takes where a survey is silent: listed with its source in the report, and overridden by a key."""

from __future__ import annotations

import re

import pytest

import heatloop as hl
from heatloop.heat_loss import building_load, defaults, u_values
from tests.helpers.paths import HARBOUR_LOFT

CATALOGUE = HARBOUR_LOFT / "catalogue.toml"
SURVEY = """
[project]
name = "Silent house"
outdoor_c = -3.0
flow_temp_c = 55.0
catalogue = "catalogue.toml"
[building]
slab_area_m2 = 40.0
slab_exposed_perimeter_m = 26.0
n50_h = 40.0                             # leaks govern, also of the whole building
reheat = { hours = 2, drop_k = 1 }
[[build_up]]
name = "wall"
layers = [
  { material = "plaster", thickness_m = 0.013, conductivity_w_mk = 0.57 },
  { material = "air", thickness_m = 0.050, cavity = "unventilated" },
  { material = "brick", thickness_m = 0.2, conductivity_w_mk = 0.77 },
]
[[build_up]]
name = "deck"
suspended = true
layers = [{ material = "boards", thickness_m = 0.02, conductivity_w_mk = 0.13 }]
[[build_up]]
name = "ceiling"
layers = [{ material = "wool", thickness_m = 0.2, conductivity_w_mk = 0.04 }]
[[build_up]]
name = "window"
u_w_m2k = 1.3
[[room]]
name = "Den"
indoor_c = 20.0
height_m = 2.5
floor = { beyond = "ground", build_up = "deck" }
ceiling = { beyond = "outdoors", build_up = "ceiling" }
walls = [
  { length_m = 4.0, beyond = "outdoors", build_up = "wall", openings = [
      { kind = "window", start_m = 1.0, width_m = 1.5, height_m = 1.2, sill_m = 0.9, build_up = "window" } ] },
  { length_m = 5.0, beyond = "outdoors", build_up = "wall" },
  { length_m = 4.0 },
  { length_m = 5.0, beyond = "outdoors", build_up = "wall" },
]
[source]
kind = "boiler"
output_kw = 8.0
[[loop]]
name = "Radiator"
tails = { pipe = "copper 15", length_m = 4.0 }
valves = { return = "lockshield 15" }
emitters = [{ emitter = "old radiator", room = "Den", existing = true }]
"""
BUILDING, WALL, PROJECT = "[building]", 'name = "wall"', 'name = "Silent house"'
DEFAULTS = {
    "annual mean outdoors 10 °C": (PROJECT, "annual_mean_c = 8.0"),
    "correction of the loss to the ground for the cold season, factor 1.45": (BUILDING, "ground_season_factor = 1.2"),
    "correction of the loss to the ground for ground water at least 1 m below the floor, factor 1": (
        BUILDING, "ground_water_factor = 1.15",
    ),
    "ground conductivity 2 W/(m K)": (BUILDING, "ground_conductivity_w_mk = 1.5"),
    "thickness of the walls on the slab 0.3 m": (BUILDING, "wall_thickness_m = 0.5"),
    "height of the floor above the ground outside 0.3 m": (BUILDING, "underfloor.height_m = 0.6"),
    "U of the walls of the void 1.5 W/(m² K)": (BUILDING, "underfloor.wall_u_w_m2k = 1.0"),
    "vents of the void 0.003 m²/m": (BUILDING, "underfloor.vents_m2_m = 0.001"),
    "mean wind at 10 m 5 m/s": (BUILDING, "underfloor.wind_m_s = 3.0"),
    "wind shelter of the void 0.05": (BUILDING, "underfloor.wind_shelter = 0.1"),
    "thermal bridges 0.05 W/(m² K)": (BUILDING, "thermal_bridge_w_m2k = 0.07"),
    "heat loss calculated with inside dimensions and 0.05 W/(m² K) for thermal bridges": (
        BUILDING, 'dimensions = "outside"',
    ),
    "heat capacity of air 0.34 W h/(m³ K)": (BUILDING, "air_wh_m3k = 0.33"),
    'wind shielding "moderate"': (BUILDING, 'shielding = "heavy"'),
    "building load: infiltration of several rooms counts 0.5": (BUILDING, "infiltration_share = 0.7"),
    "surface resistance inside, horizontal heat flow 0.13 m² K/W": (WALL, "inner_surface_m2k_w = 0.10"),
    "surface resistance outside 0.04 m² K/W": (WALL, "outer_surface_m2k_w = 0.06"),
    "unventilated air layer of 50 mm, horizontal heat flow, 0.18 m² K/W": (
        'thickness_m = 0.050, cavity = "unventilated"', "thickness_m = 0.050, resistance_m2k_w = 0.5",
    ),
    "outdoor air at least 0.5 changes an hour": ('name = "Den"', "air_changes_h = 1.0"),
    "reheat 6 W/m² of floor": ('name = "Den"', "reheat_w_m2 = 9.0"),
}  # fmt: skip
SHELTERED = {"none": (0.0, 0.03, 0.05), "moderate": (0.0, 0.02, 0.03), "heavy": (0.0, 0.01, 0.02)}
"""EN 12831:2003 table D.8, from memory: no, one, and more than one opening to the outdoors."""


def sized(folder, survey=SURVEY):
    (folder / "catalogue.toml").write_text(CATALOGUE.read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "survey.toml").write_text(survey, encoding="utf-8")
    return hl.size(folder / "survey.toml")


@pytest.fixture(scope="module")
def silent(tmp_path_factory):
    return sized(tmp_path_factory.mktemp("silent"))


def lines(design, words):
    table = design.assumptions
    return table[table["assumption"].str.contains(words, regex=False)]


@pytest.mark.parametrize("words", DEFAULTS)
def test_a_default_is_listed_with_its_source(silent, words):
    found = lines(silent, words)
    assert len(found) >= 1
    assert found["source"].str.contains(r"EN|ISO|SAP|common practice", regex=True).all()


@pytest.mark.parametrize("words", DEFAULTS)
def test_a_key_of_the_survey_overrides_it(silent, words, tmp_path):
    place, key = DEFAULTS[words]
    new = key if "cavity" in place else f"{place}\n{key}"
    design = sized(tmp_path, SURVEY.replace(place, new, 1))
    load = "building_load_w" if "building load" in words else "heat_loss_w"
    assert design.summary[load] != pytest.approx(silent.summary[load], rel=1e-6)
    if "surface resistance outside" not in words:  # the ceiling keeps that one
        assert lines(design, words).empty


@pytest.mark.parametrize("module", [defaults, building_load, u_values], ids=lambda module: module.__name__)
def test_a_default_names_the_edition_of_its_source_or_says_that_it_is_practice(module):
    """And whoever has not seen the edition says so."""
    values = vars(module).items()
    sources = {name: value.source for name, value in values if isinstance(value, defaults.DefaultValue)}
    sources |= {name: value for name, value in values if name.endswith("_SOURCE")}
    assert sources
    for name, source in sources.items():
        if name in ("STATED_SOURCE", "SURVEY_SOURCE", "STATED_U_SOURCE"):  # what the survey itself means
            continue
        assert re.search(r":?(19|20)\d\d\b|common practice", source), name
        edition = re.search(r"(EN|ISO|SAP) [^,;]*(19|20)\d\d", source)
        assert edition is None or re.search(r"from memory|quoted by others|the middle of", source), name


def test_no_assumption_stands_without_a_source(silent):
    assert silent.assumptions["source"].str.strip().all()
    assert not silent.assumptions["assumption"].map(lambda text: re.search(r"\bnan\b|None", text)).any()


def test_what_is_legal_and_unlikely_is_a_caution_of_the_report(tmp_path):
    """A U-value that nothing built has, and a rating below what one side of a bare plate gives, from the files."""
    loop = """[[loop]]
name = "Skirting"
profile = "duo 130"
arrangement = "there-and-back"
tails = { pipe = "copper 15", length_m = 4.0 }
crossing = { pipe = "copper 15" }
valves = { return = "lockshield 15" }
route = [{ room = "Den", walls = [2] }]
"""
    (tmp_path / "survey.toml").write_text(SURVEY.replace("u_w_m2k = 1.3", "u_w_m2k = 6.5") + loop, encoding="utf-8")
    catalogue = CATALOGUE.read_text(encoding="utf-8").replace("output_w_m = 150", "output_w_m = 70")
    (tmp_path / "catalogue.toml").write_text(catalogue, encoding="utf-8")
    design = hl.size(tmp_path / "survey.toml")
    checks = design.checks.set_index("check")
    for check, value in (("plausible U-value", 6.5), ("rated output against a flat plate", 70.0)):
        assert checks.loc[check, ["calculated", "verdict"]].tolist() == [value, "caution"]
        assert checks.loc[check, "recommendation"]
        assert check in str(design.summary_block())
    unlikely = design.assumptions[design.assumptions["topic"] == "heat loss, to be confirmed"]
    assert unlikely["assumption"].str.contains("U 6.50 W/(m² K) is above 6", regex=False).any()


@pytest.mark.parametrize("shielding", SHELTERED)
def test_leaks_by_shielding_and_openings(shielding: str) -> None:
    for openings, exposed in enumerate((*SHELTERED[shielding], SHELTERED[shielding][2])):
        leaks = defaults.infiltration_m3_h(100.0, 3.0, shielding, openings, 5.0)  # type: ignore[arg-type]
        assert leaks == pytest.approx(600.0 * exposed, rel=1e-12)


def test_leaks_by_height_change_above_10_and_30_metres() -> None:
    heights_m = (0.0, 10.0, 10.1, 30.0, 30.1, 90.0)
    leaks = [defaults.infiltration_m3_h(100.0, 1.0, "none", 1, one) for one in heights_m]
    assert leaks == pytest.approx([6.0, 6.0, 7.2, 7.2, 9.0, 9.0], rel=1e-12)


def test_supplements_for_bridges_are_those_of_the_table() -> None:
    assert list(defaults.BRIDGES_W_M2K) == [0.02, 0.05, 0.10, 0.15]


def test_defaults_are_those_that_are_documented() -> None:
    assert {
        default.description: default.value
        for default in (
            defaults.AIR_WH_M3K,
            defaults.ANNUAL_MEAN_C,
            defaults.GROUND_SEASON,
            defaults.GROUND_W_MK,
            defaults.WALL_THICKNESS_M,
            defaults.VOID_HEIGHT_M,
            defaults.VOID_WALL_U_W_M2K,
            defaults.VOID_VENTS_M2_M,
            defaults.VOID_WIND_M_S,
            defaults.VOID_SHELTER,
        )
    } == {
        "heat capacity of air": 0.34,
        "annual mean outdoors": 10.0,
        "correction of the loss to the ground for the cold season, factor": 1.45,
        "ground conductivity": 2.0,
        "thickness of the walls on the slab": 0.3,
        "height of the floor above the ground outside": 0.3,
        "U of the walls of the void": 1.5,
        "vents of the void": 0.003,
        "mean wind at 10 m": 5.0,
        "wind shelter of the void": 0.05,
    }
