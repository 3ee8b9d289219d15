"""Faults of a survey file and those of its layout are reported together."""

import math
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.layout.build import validated_survey
from heatloop.survey.loops import RouteWalls
from tests.helpers.laid_room import ROOM, laid
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge"


def written(folder: Path, *changes: tuple[str, str], drop_crossing_of: str | None = None) -> Path:
    """The demonstration with words of it changed, and a loop without its crossing where one is named."""
    text = (LODGE / "draft.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    if drop_crossing_of:
        head, tail = text.split(f'[[loop]]\nname = "{drop_crossing_of}"\n', 1)
        lines = tail.split("\n")
        del lines[next(i for i, line in enumerate(lines) if line.startswith("crossing = "))]
        text = f'{head}[[loop]]\nname = "{drop_crossing_of}"\n' + "\n".join(lines)
    shutil.copy(LODGE / "catalogue.toml", folder)
    path = folder / "survey.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_missing_crossing_pipe_is_reported_beside_the_faults_of_the_file(tmp_path: Path) -> None:
    path = written(tmp_path, ("outdoor_c = -3.0", 'outdoor_c = "cold"'), drop_crossing_of="Kitchen")
    with pytest.raises(hl.InputError) as caught:
        hl.size(path)
    lines = str(caught.value).splitlines()
    assert len(lines) == 3
    assert "project, outdoor_c: found the text 'cold'" in lines[0]
    assert all('loop "Kitchen", room "Kitchen-diner", wall' in line for line in lines[1:])
    assert "dining door to cross and no pipe for it" in lines[1]
    assert "double doors to cross and no pipe for it" in lines[2]


def test_the_layout_alone_is_reported_as_before(tmp_path: Path) -> None:
    with pytest.raises(hl.InputError, match="dining door to cross and no pipe for it") as caught:
        hl.size(written(tmp_path, drop_crossing_of="Kitchen"))
    assert len(caught.value.issues) == 2


def test_what_a_fault_touches_is_not_laid_out(tmp_path: Path) -> None:
    """Walls that cannot be read leave the loops that run along them out of it: no fault comes of a fault."""
    path = written(tmp_path, ("length_m = 7.60", 'length_m = "long"'), drop_crossing_of="Kitchen")
    with pytest.raises(hl.InputError) as caught:
        validated_survey("size", path)
    assert [fault.place for fault in caught.value.issues] == ['room "Kitchen-diner", wall 1, length_m']


@pytest.mark.parametrize("bearing", [math.nan, math.inf, 400.0])
def test_a_bearing_that_is_none_is_reported(bearing: float) -> None:
    """Of a survey made by a program; a file is refused where it is read."""
    survey = hl.read_survey(LODGE / "survey.toml")
    rooms = tuple(
        replace(room, first_wall_bearing_deg=bearing) if room.name == "Nursery" else room for room in survey.rooms
    )
    with pytest.raises(hl.InputError) as caught:
        hl.size(replace(survey, rooms=rooms))
    (fault,) = caught.value.issues
    assert fault.place == 'room "Nursery", first_wall_bearing_deg'
    assert fault.found == f"{bearing}"


@pytest.mark.parametrize("bearing_deg", [360.0, -360.0])
def test_a_bearing_may_be_a_full_turn(bearing_deg: float) -> None:
    _, layout = laid(RouteWalls("Room", (1,)), rooms=(replace(ROOM, first_wall_bearing_deg=bearing_deg),))
    geometry = layout.room("Room").geometry
    assert geometry is not None
    assert geometry.corners_m[1] == pytest.approx((0.0, 3.0))


def test_without_a_catalogue_nothing_is_laid_out(tmp_path: Path) -> None:
    path = written(tmp_path, drop_crossing_of="Kitchen")
    (tmp_path / "catalogue.toml").unlink()
    with pytest.raises(hl.InputError) as caught:
        validated_survey("size", path)
    assert len(caught.value.issues) == 1
