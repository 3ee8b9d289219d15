"""The answer before a survey: the metres it states heat the rooms, ranges enclose them, and the page says so."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.__main__ import main
from heatloop.survey.survey import at_flow_temp
from heatloop.workflows.estimating.estimate import _with_metres
from heatloop.workflows.size import size_valid
from tests.helpers.estimated_rooms import CATALOGUE, PRICES, ROOMS
from tests.helpers.paths import DATA


@pytest.mark.parametrize("flow_temp_c", [40.0, 45.0, 55.0])
def test_the_metres_that_are_needed_give_the_loss(
    schedule: hl.Survey, estimate: hl.Estimate, flow_temp_c: float
) -> None:
    """Sized anew with these lengths each room has its loss within 1.5 %."""
    rows = estimate.rooms[estimate.rooms["flow_temp_c"] == flow_temp_c]
    metres = dict(zip(rows["room"], rows["needed_m"], strict=True))
    rooms = size_valid(_with_metres(at_flow_temp(schedule, flow_temp_c), metres)).rooms
    assert (rooms["margin_w"] / rooms["heat_loss_w"]).abs().max() < 0.015


def test_ranges_enclose_the_estimate_and_answers_follow_from_them(estimate: hl.Estimate) -> None:
    rooms, table = estimate.rooms, estimate.temperatures
    for frame in (rooms, table):
        assert (frame["needed_min_m"] < frame["needed_m"]).all()
        assert (frame["needed_m"] < frame["needed_max_m"]).all()
    for row in rooms.to_dict("records"):
        short, doubtful = row["needed_m"] > row["available_m"], row["needed_max_m"] > row["available_m"]
        assert row["answer"] == ("no" if short else "probably" if doubtful else "yes")
    assert list(table["flow_temp_c"]) == [40.0, 45.0, 55.0]
    assert list(table["answer"]) == ["no", "probably", "yes"]
    assert list(table["rooms_with_too_little_wall"]) == [2, 0, 0]
    assert list(table["available_m"]) == [14.0] * 3
    assert (estimate.summary["lowest_sure_c"], estimate.summary["lowest_probable_c"]) == (55.0, 45.0)
    for name in ("needed_m", "needed_min_m", "needed_max_m"):
        by_temp = rooms.groupby("flow_temp_c")[name].sum()
        assert list(table[name]) == pytest.approx(list(by_temp))


def test_prices_are_those_of_a_quotation_for_these_metres(schedule: hl.Survey, estimate: hl.Estimate) -> None:
    table = estimate.temperatures.set_index("flow_temp_c")
    rows = estimate.rooms[estimate.rooms["flow_temp_c"] == 55.0]
    metres = dict(zip(rows["room"], rows["needed_m"], strict=True))
    design = hl.Design.of(size_valid(_with_metres(at_flow_temp(schedule, 55.0), metres)))
    assert table.loc[55.0, "price"] == design.parts().price(PRICES).summary["order_cost"]
    assert (table["price_min"] <= table["price"]).all()
    assert (table["price"] <= table["price_max"]).all()
    assert table.loc[40.0, "price_max"] == table.loc[40.0, "price"]  # no more than there is wall


def test_a_wider_range_of_losses_is_a_wider_range_of_metres(schedule: hl.Survey) -> None:
    exact, wide = (hl.estimate(schedule, None, [55.0], share).temperatures.iloc[0] for share in (0.0, 30.0))
    assert exact["needed_m"] == wide["needed_m"]
    assert wide["needed_max_m"] == pytest.approx(1.3 * exact["needed_max_m"])
    assert wide["needed_min_m"] == pytest.approx(0.7 * exact["needed_min_m"])
    assert math.isnan(exact["price"])


def test_the_answer_in_words(estimate: hl.Estimate, schedule: hl.Survey) -> None:
    assert estimate.answer == (
        "At 55 °C and above, every room has enough wall, also at the upper end of the range. "
        "At 45 °C, the wall is probably enough, but not at the upper end of the range. "
        "At 40 °C, 2 rooms have too little wall: Den and Bath."
    )
    cold = hl.estimate(schedule, None, [30.0])
    assert cold.answer.startswith("At none of these temperatures is there enough wall in every room.")
    assert "Estimate before the survey" in str(estimate)
    assert repr(estimate) == "<Estimate of 'Estimate': 3 flow temperatures>"


@pytest.mark.parametrize(
    ("given", "place"),
    [
        ({"flow_temps_c": []}, "flow_temps_c"),
        ({"flow_temps_c": [20.0]}, "flow_temps_c"),
        ({"flow_temps_c": "45"}, "flow_temps_c"),
        ({"flow_temps_c": [45.0, math.nan]}, "flow_temps_c"),
        ({"loss_range_percent": 100.0}, "loss_range_percent"),
    ],
)
def test_wrong_arguments_are_refused(schedule: hl.Survey, given: dict[str, object], place: str) -> None:
    with pytest.raises(hl.InputError) as caught:
        hl.estimate(schedule, **given)  # type: ignore[arg-type]
    assert [issue.place for issue in caught.value.issues] == [place]


def test_rooms_that_have_been_surveyed_are_refused() -> None:
    with pytest.raises(hl.InputError, match="a room before its survey"):
        hl.estimate(DATA / "mill-annexe" / "survey.toml")


def _run(capsys: pytest.CaptureFixture[str], folder: Path, *more: object) -> tuple[int, str, str]:
    ROOMS.to_csv(folder / "rooms.csv", index=False)
    arguments = ["estimate", folder / "rooms.csv", "--catalogue", CATALOGUE, "--outdoor", -3, *more]
    status = main([str(one) for one in arguments])
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return status, out, err


def test_the_command_prints_the_table_and_writes_the_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "answer.html"
    status, out, _ = _run(capsys, tmp_path, "--flow-temp", 40, "--flow-temp", 55, "--page", page)
    assert status == 0
    assert "At 55 °C and above, every room has enough wall" in out
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert _run(capsys, tmp_path, "--flow-temp", 30, "--flow-temp", 32)[0] == 1


def test_one_flow_temperature_is_a_quotation_as_before(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = _run(capsys, tmp_path, "--flow-temp", 55, "--prices", PRICES)
    assert (status, "rooms.csv, quotation" in out) == (0, True)
    status, _, error = _run(capsys, tmp_path, "--flow-temp", 55)
    assert status == 2
    assert "--prices: found nothing" in error
