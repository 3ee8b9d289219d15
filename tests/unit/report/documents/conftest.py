"""Designs of one, nine and twenty rooms with all that is handed over, made once a session."""

from __future__ import annotations

import pytest

import heatloop as hl
from tests.helpers.handed import Handed, handed
from tests.helpers.large_house import large_house


@pytest.fixture(scope="session")
def one_room(mill_annexe: hl.Design) -> Handed:
    return handed(mill_annexe)


@pytest.fixture(scope="session")
def nine_rooms(alder_lodge: hl.Design) -> Handed:
    return handed(alder_lodge)


@pytest.fixture(scope="session")
def draft(alder_draft: hl.Design) -> Handed:
    return handed(alder_draft)


@pytest.fixture(scope="session")
def twenty_rooms(tmp_path_factory: pytest.TempPathFactory) -> Handed:
    return handed(hl.size(large_house(tmp_path_factory.mktemp("house") / "court")))


@pytest.fixture(scope="session")
def sizes(one_room: Handed, nine_rooms: Handed, twenty_rooms: Handed) -> dict[str, Handed]:
    """The three by their names."""
    return {"one room": one_room, "nine rooms": nine_rooms, "twenty rooms": twenty_rooms}
