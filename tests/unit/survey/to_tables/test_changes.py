"""Changes are saved into the file that they were read from, with its comments."""

import shutil
from collections import Counter
from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.survey.building import CoveredStretch
from heatloop.survey.loops import LoopEmitter
from tests.helpers.paths import DATA, HARBOUR_LOFT

MILL = DATA / "mill-annexe" / "survey.toml"
LODGE = DATA / "alder-lodge" / "survey.toml"


@pytest.fixture(scope="module")
def mill():
    return hl.read_survey(MILL)


@pytest.fixture(scope="module")
def lodge():
    return hl.read_survey(LODGE)


def test_comments_of_a_file_stay_when_changes_are_saved(lodge, tmp_path):
    path = shutil.copytree(LODGE.parent, tmp_path / "lodge") / "survey.toml"
    before = path.read_text(encoding="utf-8").splitlines()
    room = lodge.room("Nursery")
    wall = replace(room.walls[0], covered=(CoveredStretch(0.5, 0.4),))
    changed = (
        lodge.with_outdoor(-5.0)
        .with_delta_t(6.5)
        .with_room(replace(room, walls=(wall, *room.walls[1:])))
        .with_room(hl.build.rectangle("Larder", 12.0, 2.0, 1.5, heat_loss_w=80.0))
    )
    assert changed.save_changes(path) == path
    after = path.read_text(encoding="utf-8").splitlines()
    assert replace(hl.read_survey(path), path=LODGE) == changed
    assert (Counter(before) - Counter(after)).total() == 3
    assert sum("#" in line for line in after) == sum("#" in line for line in before)
    assert not lodge.save_changes(path).read_text(encoding="utf-8").count("Larder")


def test_a_change_to_a_room_that_others_copy_is_saved_for_it_alone(tmp_path):
    path = shutil.copytree(HARBOUR_LOFT, tmp_path / "loft") / "survey.toml"
    loft = hl.read_survey(path)
    copy = next(room for room in loft.rooms if room.copy_of)
    other = loft.room(copy.copy_of)
    walls = (replace(other.walls[0], covered=(CoveredStretch(0.1, 0.2),)), *other.walls[1:])
    changed = loft.with_room(replace(other, walls=walls))
    changed.save_changes(path)
    again = hl.read_survey(path)
    assert again == changed
    assert again.room(copy.name).walls == copy.walls


def test_changes_are_not_saved_into_what_is_no_survey(mill, tmp_path):
    path = tmp_path / "survey.toml"
    with pytest.raises(hl.InputError, match="no such file"):
        mill.save_changes(path)
    path.write_text("[project]\n", encoding="utf-8")
    with pytest.raises(hl.InputError, match="found nothing"):
        mill.save_changes(path)
    assert path.read_text(encoding="utf-8") == "[project]\n"


def test_a_new_key_is_above_the_comments_of_the_next_table(tmp_path):
    path = shutil.copytree(LODGE.parent, tmp_path / "lodge") / "draft.toml"
    survey = hl.read_survey(path)
    kitchen = survey.loop("Kitchen")
    changed = survey.with_loop(replace(kitchen, delta_t_k=5.0, emitters=(LoopEmitter("plinth emitter 450", "Hall"),)))
    lines = changed.save_changes(path).read_text(encoding="utf-8").splitlines()
    assert hl.read_survey(path).loops == changed.loops
    drop, next_loop = lines.index("delta_t_k = 5.0"), lines.index('name = "Hall and study"')
    assert lines[drop - 1] == "]"
    assert lines[next_loop - 2].startswith("# One-way: through the hall")
