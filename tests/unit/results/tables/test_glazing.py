"""Comfort beside glazing: which openings, what stands before them, and the checks that follow; sills underfoot."""

import math
from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.physics.comfort import draught_rate_percent
from heatloop.survey.entry import read_survey
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge" / "draft.toml"


@pytest.fixture(scope="module")
def lodge(alder_draft):
    return alder_draft


def opening(design, room, label):
    table = design.glazing_comfort
    return table[(table["room"] == room) & (table["opening"] == label)].iloc[0]


def verdicts(design, check):
    rows = design.checks[design.checks["check"] == check]
    return rows.set_index("location")["verdict"].to_dict()


def test_every_window_to_the_cold_has_a_row_and_no_inner_door(lodge):
    windows = [
        (room.name, f"wall {number}, {o.name or f'{o.kind} {count}'}")
        for room in lodge.survey.rooms
        for number, wall in enumerate(room.walls, start=1)
        for count, o in enumerate(wall.openings, start=1)
        if wall.beyond == "outdoors" and o.kind in ("window", "glazed door")
    ]
    assert list(zip(lodge.glazing_comfort["room"], lodge.glazing_comfort["opening"], strict=True)) == windows
    assert "Study" in set(
        lodge.glazing_comfort["room"]
    )  # its loss is stated, its windows are built of something all the same


def test_what_stands_before_an_opening(lodge):
    doors = opening(lodge, "Kitchen-diner", "wall 6, garden doors")
    assert (doors["below_opening"], doors["covered_width_m"]) == ("floor section", pytest.approx(2.4))
    assert opening(lodge, "Kitchen-diner", "wall 1, sink window")["below_opening"] == "nothing"  # units stand there
    part = opening(lodge, "Main bedroom", "wall 5, window 1")
    assert part["below_opening"] == "skirting"
    assert 0.0 < part["covered_width_m"] < part["width_m"]


def test_watts_before_glazing_are_those_of_its_pieces(lodge):
    """The sill lies along the garden doors alone: what it gives the room, a metre of their width."""
    doors = opening(lodge, "Kitchen-diner", "wall 6, garden doors")
    elements = lodge.elements
    sill = elements[elements["kind"] == "floor section"]["heat_w"].sum()
    down = lodge.rooms.set_index("room")["downward_loss_w"]["Kitchen-diner"]
    assert doors["skirting_w_m"] == pytest.approx((sill - down) / 2.4, rel=1e-9)
    assert doors["pane_loss_w_m"] == pytest.approx(1.3 * 2.1 * 23.0)
    assert doors["covered_share"] == pytest.approx(doors["skirting_w_m"] / doors["pane_loss_w_m"])


def test_draught_by_hand(lodge):
    """Kitchen-diner 20 °C, -3 outdoors: glass 16.11; fall over 2.1 m at 1 m: 0.143 sqrt(3.887 2.1)/2.32."""
    doors = opening(lodge, "Kitchen-diner", "wall 6, garden doors")
    assert doors["glass_temp_c"] == pytest.approx(20.0 - 1.3 * 0.13 * 23.0)
    velocity = 0.143 * (3.887 * 2.1) ** 0.5 / 2.32
    assert doors["velocity_1m_m_s"] == pytest.approx(velocity, rel=1e-4)
    assert doors["velocity_at_sill_m_s"] == pytest.approx(0.083 * (3.887 * 2.1) ** 0.5, rel=1e-4)
    assert doors["draught_rate_percent"] == pytest.approx(draught_rate_percent(20.0, velocity), rel=1e-3)


@pytest.mark.parametrize("indoor_c", [19.0, 27.0, 34.5, 38.0])
def test_rooms_beyond_the_range_of_the_draught_rate_have_a_result_without_it(lodge, indoor_c):
    """ISO 7730 gives the rate for 20 to 26 °C: elsewhere there is none, and no check of it."""
    rooms = tuple(
        replace(room, indoor_c=indoor_c) if room.name == "Main bedroom" else room for room in lodge.survey.rooms
    )
    design = hl.size(replace(lodge.survey, rooms=rooms))
    window = opening(design, "Main bedroom", "wall 5, window 1")
    assert math.isnan(window["draught_rate_percent"])
    assert window["velocity_1m_m_s"] > 0.0
    assert window["asymmetry_k"] > 0.0
    subject = "Main bedroom, wall 5, window 1"
    assert subject not in verdicts(design, "draught from glazing")
    assert subject in verdicts(design, "radiant asymmetry beside glazing")
    assert subject.partition(",")[0] in verdicts(design, "heat to the room")


def test_draught_is_checked_where_nothing_makes_the_pane_good(lodge):
    checked = verdicts(lodge, "draught from glazing")
    assert checked["Kitchen-diner, wall 6, garden doors"] == "caution"  # a sill gives 40 % of what the doors lose
    assert set(checked) == {
        f"{row.room}, {row.opening}"
        for row in lodge.tables["glazing_comfort"].itertuples()
        if row.covered_share < 1.0 and 20.0 <= lodge.survey.room(row.room).indoor_c <= 26.0
    }
    assert "Nursery, wall 1, window 1" not in checked
    assert set(verdicts(lodge, "radiant asymmetry beside glazing").values()) == {"pass"}


def test_single_glazing_to_the_floor_looks_cold():
    survey = read_survey(LODGE)
    single = tuple(replace(b, u_w_m2k=5.7) if b.name == "garden doors" else b for b in survey.build_ups)
    design = hl.size(replace(survey, build_ups=single, project=replace(survey.project, outdoor_c=-15.0)))
    doors = opening(design, "Kitchen-diner", "wall 6, garden doors")
    assert doors["asymmetry_k"] > 10.0
    checked = verdicts(design, "radiant asymmetry beside glazing")
    assert checked["Kitchen-diner, wall 6, garden doors"] == "caution"


# --- sills underfoot -----------------------------------------------------------------------------------


def with_sill(survey, use=None, **changes):
    profiles = tuple(
        replace(profile, floor_section=replace(profile.floor_section, **changes)) if profile.floor_section else profile
        for profile in survey.catalogue.profiles
    )
    rooms = tuple(replace(room, use=use or room.use) if room.name == "Kitchen-diner" else room for room in survey.rooms)
    return replace(survey, catalogue=replace(survey.catalogue, profiles=profiles), rooms=rooms)


@pytest.mark.parametrize(
    ("keys", "bound_c", "source", "verdict"),
    [
        (
            {"surface_share": 1.0, "max_surface_c": 34.0},
            34.0,
            "maximum surface temperature of the floor section",
            "caution",
        ),
        ({"surface_share": 1.0, "max_surface_c": 45.0}, 35.0, "EN 1264", "caution"),
        ({"surface_share": 0.5, "max_surface_c": None}, 35.0, "EN 1264", "pass"),
        ({"surface_share": 0.6, "max_surface_c": None, "use": "bathroom"}, 29.0, "EN 1264", "caution"),
    ],
    ids=["as the supplier states", "no more than the edge zone", "edge zone", "bathroom"],
)
def test_a_sill_is_held_to_what_feet_can_stand(lodge, keys, bound_c, source, verdict):
    design = hl.size(with_sill(lodge.survey, **keys))
    found = design.checks[design.checks["check"] == "surface temperature of a floor section"].iloc[0]
    assert (found["limit"], found["verdict"]) == (bound_c, verdict)
    assert source in found["source"]
    hottest = design.temperature_profile.groupby("label")["surface_temp_c"].max()[found["location"]]
    assert found["calculated"] == pytest.approx(20.0 + keys["surface_share"] * (hottest - 20.0))
