"""One published report, designs of several sizes with their parts."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.workflows.publishing.publish import PublishedReport, publish_report
from tests.helpers.browser import Browser
from tests.helpers.guest_house import guest_house
from tests.helpers.handed import Handed, handed
from tests.helpers.large_house import large_house
from tests.helpers.paths import DATA


@pytest.fixture(scope="session")
def design(alder_draft: hl.Design) -> hl.Design:
    """A design with cold rooms and open checks: there is most to report of it."""
    return alder_draft


PROJECT, ROOM = "Alder <img src=x onerror=alert(1)> Lodge", "<b onclick='alert(1)'>Study</b>"


@pytest.fixture(scope="session")
def published(tmp_path_factory: pytest.TempPathFactory, chromium: Browser) -> PublishedReport:
    """The whole report of nine rooms with hostile names and with prices; none where no browser could show it."""
    folder = tmp_path_factory.mktemp("page")
    shutil.copytree(DATA / "alder-lodge", folder / "job")
    survey = folder / "job" / "survey.toml"
    text = survey.read_text(encoding="utf-8").replace('"Alder Lodge"', f'"{PROJECT}"').replace('"Study"', f'"{ROOM}"')
    survey.write_text(text, encoding="utf-8")
    return publish_report(survey, folder / "out", prices=folder / "job" / "prices.csv")


@pytest.fixture
def pages(published: PublishedReport) -> list[Path]:
    return [path for path in published.files if path.suffix == ".html"]


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
def guest_house_design(tmp_path_factory: pytest.TempPathFactory) -> hl.Design:
    """Forty rooms and thirty loops; some rooms are short of heat."""
    return hl.size(guest_house(tmp_path_factory.mktemp("guests") / "house"))


@pytest.fixture(scope="session")
def sizes(one_room: Handed, nine_rooms: Handed, twenty_rooms: Handed) -> dict[str, Handed]:
    """The three by their names."""
    return {"one room": one_room, "nine rooms": nine_rooms, "twenty rooms": twenty_rooms}
