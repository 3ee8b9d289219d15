"""A room that loses heat and that no loop reaches is named, with its loss."""

import pytest

import heatloop as hl
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def without_bedrooms() -> hl.Design:
    return hl.size(hl.read_survey(DATA / "alder-lodge" / "survey.toml").without_loop("Bedrooms"))


def test_each_room_without_a_loop_is_a_caution_with_its_loss(without_bedrooms: hl.Design) -> None:
    checks = without_bedrooms.checks
    found = checks[checks["check"] == "room without heating"].set_index("location")
    losses = without_bedrooms.rooms.set_index("room")["heat_loss_w"]
    assert list(found.index) == ["Landing", "Box room", "Main bedroom"]
    assert found["calculated"].to_dict() == pytest.approx(losses[found.index].to_dict())
    assert set(found["verdict"]) == {"caution"}


def test_the_verdict_counts_them(without_bedrooms: hl.Design) -> None:
    assert without_bedrooms.verdict.state == "ready with cautions"
    assert len([one for one in without_bedrooms.verdict.cautions if one.check == "room without heating"]) == 3


def test_heated_rooms_have_no_such_caution(alder_lodge: hl.Design) -> None:
    assert "room without heating" not in set(alder_lodge.checks["check"])
