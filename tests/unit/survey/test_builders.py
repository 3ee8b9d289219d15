"""Builders give the frozen values of a survey, and a whole survey can be built from them."""

import inspect
from collections.abc import Callable

import pytest

import heatloop as hl
from heatloop.survey.building import CoveredStretch, Obstacle, Opening
from heatloop.survey.loops import RouteCrossing, RouteEstimate, RouteWalls
from heatloop.survey.read import read_catalogue
from tests.helpers.paths import DATA

B = hl.build


def test_what_stands_on_a_wall_may_follow_in_any_order():
    wall = B.wall(
        4.0, "outdoors", B.covered(0.1, 0.5), B.window(1.0, 1.2, 1.1),
        B.obstacle("bath", 2.4, 0.7, run="stop"), B.door(3.2),
        turn_deg=-90.0, build_up="outer wall",
    )  # fmt: skip
    assert (wall.length_m, wall.beyond, wall.turn_deg, wall.build_up) == (4.0, "outdoors", -90.0, "outer wall")
    assert wall.openings == (Opening("window", 1.0, 1.2, 1.1, 0.9), Opening("door", 3.2, 0.84, 2.04))
    assert wall.obstacles == (Obstacle("bath", 2.4, 0.7, "stop"),)
    assert wall.covered == (CoveredStretch(0.1, 0.5, 0.6),)
    assert B.glazed_door(0.5, 1.8, 2.1).kind == "glazed door"


def test_a_rectangle_has_its_sides_where_the_compass_says():
    room = B.rectangle(
        "Box", 17.0, 3.0, 2.0, beyond=("a", "b", "c", "d"), build_ups=("e", None, "f", None), level_m=2.6
    )
    assert [(wall.length_m, wall.beyond, wall.build_up) for wall in room.walls] == [
        (2.0, "a", "e"), (3.0, "b", None), (2.0, "c", "f"), (3.0, "d", None),
    ]  # fmt: skip
    assert room.level_m == 2.6
    with pytest.raises(ValueError, match="shorter"):
        B.rectangle("Box", 17.0, 3.0, 2.0, beyond=("a", "b"))
    with pytest.raises(TypeError, match="colour"):
        B.room("Box", 17.0, colour="red")


def test_loops_of_every_kind():
    tails = B.tails("copper 15", 2.0, 3.0, zeta=1.0)
    assert (tails.flow_m, tails.return_m, tails.zeta) == (2.0, 3.0, 1.0)
    one = B.loop("A", "p", tails, B.route("Hall", 2, 1, to_m=1.0, floor_sections=["door"]), B.pipe("copper 15", 1.5))
    assert one.arms == (
        (RouteWalls("Hall", (2, 1), to_m=1.0, floor_sections=("door",)), RouteCrossing("copper 15", 1.5)),
    )
    assert one.arrangement == "there-and-back"
    two = B.loop("B", "p", tails, arms=([B.route("Hall", 1)], [B.route("Hall", 2)]))
    assert [len(arm) for arm in two.arms] == [1, 1]
    bare = B.loop("C", "", tails, emitters=[B.emitter("towel rail", "Bath", side="flow")])
    assert (bare.arms, bare.arrangement, bare.emitters[0].side) == ((), "one-way", "flow")
    quoted = B.loop("D", "p", tails, B.room("Den", 20.0, estimated_wall_m=6.0, heat_loss_w=300.0))
    assert quoted.arms == ((RouteEstimate("Den", 6.0),),)


def test_a_survey_built_from_nothing_is_sized(tmp_path):
    room = B.rectangle(
        "Studio", 20.0, 4.0, 3.5,
        beyond=("outdoors", "Loft", None, "outdoors"), build_ups=("wall", "wall", None, "wall"),
        floor=B.surface("ground", "deck"), ceiling=B.surface("outdoors", "roof"),
    )  # fmt: skip
    loop = B.loop(
        "Studio", "two-channel 140", B.tails("copper 15", 2.0), B.route("Studio", 1, 2, 3), trunk="main",
        crossing=B.crossing("copper 15"), valves=B.valves("thermostatic 15", "lockshield 15"),
    )  # fmt: skip
    survey = B.survey(
        "Studio", -3.0, 55.0, [room], [loop], DATA / "alder-lodge" / "catalogue.toml",
        building=B.building(slab_area_m2=14.0, slab_exposed_perimeter_m=15.0), spaces=[B.space("Loft", 5.0)],
        build_ups=[
            B.build_up("wall", u_w_m2k=0.3), B.build_up("deck", B.layer("concrete", 0.1, 1.5)),
            B.build_up("roof", B.layer("wool", 0.2, 0.04)),
        ],
        source=B.source("boiler", output_kw=4.0, pump=B.pump([0, 1.5], [40, 10])),
        trunks=[B.trunk("main", "copper 22", 3.0)], delta_t_k=6.0,
    )  # fmt: skip
    design = hl.size(survey)
    assert design.rooms["room"].tolist() == ["Studio"]
    assert 200.0 < design.rooms["heat_loss_w"].iloc[0] < 1500.0
    assert hl.read_survey(survey.save(tmp_path / "studio.toml")).rooms == survey.rooms
    with pytest.raises(hl.InputError, match=r"survey: project, outdoor_c: found -300") as caught:
        B.survey("Studio", -300.0, 5e3, [room], [loop], survey.catalogue)
    assert len(caught.value.issues) > 3
    with pytest.raises(TypeError, match="colour"):
        B.survey("Studio", -3.0, 50.0, [room], [loop], survey.catalogue, colour="red")


def test_every_builder_is_documented():
    for name in B.__all__:
        text = getattr(B, name).__doc__
        assert "Parameters\n" in text, name
        assert "Returns\n" in text, name


@pytest.mark.parametrize(
    ("made", "message"),
    [
        (
            lambda: B.wall(3.0, colour="red"),
            'build.wall has no key "colour"; other keys: turn_deg, neighbour_c, build_up',
        ),
        (
            lambda: B.wall(3.0, turn=45.0),
            'build.wall has no key "turn"; the nearest is "turn_deg"; other keys: turn_deg, neighbour_c, build_up',
        ),
        (
            lambda: B.tails("copper 15", 2.0, flow_m=1.0),
            'build.tails has no key "flow_m"; other keys: zeta, useful_share',
        ),
        (
            lambda: B.crossing("copper 15", depth=0.1),
            'build.crossing has no key "depth"; other keys: useful_share',
        ),
        (
            lambda: B.glazed_door(0.5, 1.8, 2.1, kind="door"),
            'build.glazed_door has no key "kind"; other keys: sill_m, ',
        ),
        (
            lambda: B.rectangle("Den", 20.0, 4.0, 3.0, hight_m=2.4),
            'has no key "hight_m"; the nearest is "height_m"; ',
        ),
        (
            lambda: B.building(colour="red"),
            'build.building has no key "colour"; other keys: slab_area_m2, ',
        ),
    ],
)
def test_a_key_that_does_not_exist_is_reported_with_those_that_do(made: Callable[[], object], message: str) -> None:
    with pytest.raises(TypeError) as caught:
        made()
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)


FUNCTIONS_WITH_KEYS = [name for name in B.__all__ if "keys" in inspect.signature(getattr(B, name)).parameters]


@pytest.mark.parametrize("name", FUNCTIONS_WITH_KEYS)
def test_every_function_with_other_keys_says_where_they_are_described_and_rejects_others(name: str) -> None:
    function = getattr(B, name)
    required = {"catalogue": read_catalogue(DATA / "alder-lodge" / "catalogue.toml"), "rooms": [], "loops": []}
    curve = {"flow_m3_h": [0.0, 1.0], "head_kpa": [2.0, 1.0]}
    given = {
        parameter.name: {**required, **curve}.get(parameter.name, 1.0)
        for parameter in inspect.signature(function).parameters.values()
        if parameter.kind is parameter.POSITIONAL_OR_KEYWORD and parameter.default is parameter.empty
    }
    with pytest.raises(TypeError, match=rf'^build\.{name} has no key "no_such_key"'):
        function(**given, no_such_key=1)
    words = " ".join((function.__doc__ or "").split())
    assert 'on the page "The survey file"' in words
    assert "TypeError If there is no such key." in words
