"""A sized system as the initial guess of another: the answer does not depend on the way to it."""

import pickle
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import heatloop as hl

CLOSE = 1e-6


def check_agreement(found: hl.Design, fresh: hl.Design) -> None:
    """Rooms, loops and valves of two designs to a millionth."""
    assert found.survey == fresh.survey
    for name in ("rooms", "loops", "valves", "output_range"):
        one, other = getattr(found, name), getattr(fresh, name)
        pd.testing.assert_frame_equal(one, other, rtol=CLOSE, atol=CLOSE)


def with_room_loss(survey: hl.Survey, room: str, heat_loss_w: float) -> hl.Survey:
    """The survey with a stated loss of one room."""
    rooms = tuple(
        replace(one, heat_loss_w=heat_loss_w, heat_loss_source="by hand") if one.name == room else one
        for one in survey.rooms
    )
    return replace(survey, rooms=rooms)


def stepped(design: hl.Design, rng: np.random.Generator) -> hl.Design:
    """One random change of what is changed on site or at the desk."""
    match int(rng.integers(0, 5)):
        case 0:
            return design.resize(flow_temp_c=round(float(rng.uniform(44.0, 55.0)), 1))
        case 1:
            return design.resize(outdoor_c=round(float(rng.uniform(-10.0, 5.0)), 1))
        case 2:
            return design.resize(delta_t_k=round(float(rng.uniform(4.0, 6.0)), 2))
        case 3:
            return design.resize(with_room_loss(design.survey, "Study", round(float(rng.uniform(200.0, 600.0)), 0)))
    loops = design.survey.loops
    dropped = int(rng.integers(0, len(loops)))
    kept = tuple(loop for i, loop in enumerate(loops) if i != dropped) if len(loops) > 3 else loops
    return design.resize(replace(design.survey, loops=kept))


@pytest.mark.parametrize("seed", range(4))
def test_a_walk_of_changes_ends_where_a_fresh_size_does(alder_draft, seed):
    design, rng = alder_draft, np.random.default_rng(seed)
    for _ in range(5):
        design = stepped(design, rng)
    check_agreement(design, hl.size(design.survey))


def test_there_and_back_gives_the_same_design(alder_draft):
    flow_c = alder_draft.survey.project.flow_temp_c
    check_agreement(alder_draft.resize(flow_temp_c=flow_c - 4.0).resize(flow_temp_c=flow_c), alder_draft)


def test_another_profile_begins_from_the_flows_alone(alder_draft):
    survey = alder_draft.survey
    profile = next(one for one in survey.profiles if one.name == "two-channel 140")
    warmer = replace(profile, rating=replace(profile.rating, output_w_m=profile.rating.output_w_m * 1.1))
    profiles = tuple(warmer if one is profile else one for one in survey.catalogue.profiles)
    changed = replace(survey, catalogue=replace(survey.catalogue, profiles=profiles))
    found = alder_draft.resize(changed)
    check_agreement(found, hl.size(changed))
    assert not np.allclose(found.loops["flow_l_h"], alder_draft.loops["flow_l_h"], rtol=1e-3)


def test_lossy_trunks_mixed_and_sized_by_loss(alder_lodge):
    changed = alder_lodge.resize(flow_temp_c=alder_lodge.survey.project.flow_temp_c + 2.0)
    check_agreement(changed, hl.size(changed.survey))
    by_loss = changed.resize(size_by="loss")
    check_agreement(by_loss, hl.size(by_loss.survey))


def test_tables_are_made_once_and_go_into_a_pickle(mill_annexe):
    design = mill_annexe.resize(delta_t_k=mill_annexe.survey.project.delta_t_k * 0.9)
    assert design.frames["rooms"] is design.frames["rooms"]
    assert design.rooms is not design.rooms
    again = pickle.loads(pickle.dumps(design))
    assert again.verdict == design.verdict
    assert list(again.tables) == list(design.tables)
    for name, table in design.tables.items():
        pd.testing.assert_frame_equal(again.tables[name], table)
