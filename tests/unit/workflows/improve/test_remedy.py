"""Remedies are values: applied to a survey they change what they state and nothing else."""

import pytest

import heatloop as hl
from heatloop.workflows.improve.remedy import WHOLE, Edit, Remedy, are_compatible, loop_edit, with_remedies
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def draft():
    return hl.read_survey(DATA / "alder-lodge" / "draft.toml")


def remedy(*edits):
    return Remedy("smaller drop", "", "", edits)


def test_every_table_is_changed_at_its_item(draft):
    loop = draft.loop("Kitchen")
    changed = with_remedies(
        draft,
        [
            remedy(loop_edit(loop, delta_t_k=4.0)),
            remedy(Edit("project", "", (("outdoor_c", -5.0), ("flow_temp_c", 52.0)))),
            remedy(Edit("trunk", "upstairs", (("pipe", "copper 28"),))),
            remedy(Edit("build_up", "window", (("u_w_m2k", 0.9),))),
            remedy(Edit("room", "Hall", (("indoor_c", 17.0),))),
        ],
    )
    assert changed.loop("Kitchen").delta_t_k == 4.0
    assert (changed.project.outdoor_c, changed.project.flow_temp_c) == (-5.0, 52.0)
    assert changed.trunk("upstairs").pipe == "copper 28"
    assert changed.build_up("window").u_w_m2k == 0.9
    assert changed.room("Hall").indoor_c == 17.0
    kept = [name for name in ("Living room", "Bedrooms") if changed.loop(name) == draft.loop(name)]
    assert kept == ["Living room", "Bedrooms"]


def test_an_item_that_is_not_there_is_an_error(draft):
    with pytest.raises(KeyError, match="no trunk is called"):
        with_remedies(draft, [remedy(Edit("trunk", "attic", (("pipe", "copper 28"),)))])


def test_two_changes_of_one_field_exclude_each_other(draft):
    loop = draft.loop("Kitchen")
    drop, less = (remedy(loop_edit(loop, delta_t_k=value)) for value in (5.0, 4.0))
    profile = remedy(loop_edit(loop, profile="three-channel 175"))
    elsewhere = remedy(loop_edit(draft.loop("Bedrooms"), delta_t_k=5.0))
    gone = remedy(Edit("loop", "Kitchen", ((WHOLE, None),)))
    assert are_compatible([drop, profile, elsewhere])
    assert not are_compatible([drop, less])
    assert not are_compatible([drop, gone])
    assert not are_compatible([gone, profile])
    assert are_compatible([gone, elsewhere])
