"""Every remedy listed does what its row states: sized again from its file, the design has those figures."""

import numpy as np
import pytest

import heatloop as hl
from tests.helpers.paths import DATA
from tests.helpers.survey_parts import part_of

PRICES = DATA / "alder-lodge" / "prices.csv"


@pytest.fixture(scope="module")
def cold():
    """Mill Annexe with water too cool for its only room."""
    return hl.read_survey(DATA / "mill-annexe" / "survey.toml").with_flow_temp(65.0)


@pytest.fixture(scope="module")
def said():
    return []


@pytest.fixture(scope="module")
def found(cold, said):
    return hl.improve(cold, PRICES, progress=said.append)


def test_every_row_is_what_size_gives_for_the_changed_survey(found):
    for row in found.remedies.to_dict("records"):
        if row["not_possible"]:
            continue
        design = hl.size(found.with_remedies(row["number"]))
        summary, rooms = design.summary, design.rooms.set_index("room")
        assert (summary["checks_failed"], summary["checks_caution"]) == (row["checks_failed"], row["checks_caution"])
        assert rooms.loc["Annexe", "margin_w"] == pytest.approx(row["after"], abs=0.01)
        assert row["resolves"] == (row["after"] >= 0.0)
        assert row["min_margin_w"] == row["after"]


def test_a_step_less_does_not_resolve(cold, found):
    """Of drops in steps of 0.5 K and flow temperatures in the same steps, the next smaller change leaves it cold."""
    rows = found.remedies.set_index("kind")
    drop_k = found.with_remedies(int(rows.loc["smaller drop", "number"])).loops[0].delta_t_k
    flow_c = found.with_remedies(int(rows.loc["hotter water", "number"])).project.flow_temp_c
    for survey in (
        cold.with_values({"loop": {"Annexe": {"delta_t_k": drop_k + 0.5}}}),
        cold.with_flow_temp(flow_c - 0.5),
    ):
        assert hl.size(survey).rooms["margin_w"].iloc[0] < 0.0


def test_the_best_come_first(found):
    rows = found.remedies.to_dict("records")
    order = [(not row["resolves"], row["checks_failed"], row["other_work"]) for row in rows if not row["not_possible"]]
    assert order == sorted(order)
    assert [bool(row["not_possible"]) for row in rows] == sorted(bool(row["not_possible"]) for row in rows)
    assert sorted(row["number"] for row in rows) == list(range(1, len(rows) + 1))


def test_a_remedy_has_one_number_with_and_without_prices():
    draft = part_of(hl.read_survey(DATA / "alder-lodge" / "draft.toml"), "Kitchen")
    plain = hl.improve(draft, flow_temps_c=())
    priced = hl.improve(draft, PRICES, flow_temps_c=())
    assert plain.remedies["number"].tolist() == list(range(1, len(plain.remedies) + 1))
    assert priced.remedies["number"].tolist() != plain.remedies["number"].tolist(), "the price changes the order"
    by_number = [found.remedies.set_index("number")["remedy"].sort_index() for found in (plain, priced)]
    assert by_number[0].tolist() == by_number[1].tolist()
    assert priced.with_remedies(1).loops == plain.with_remedies(1).loops
    assert by_number[0][1].startswith("plinth emitter 450")
    assert len(priced.with_remedies(1).loop("Kitchen").emitters) == len(priced.survey.loop("Kitchen").emitters) + 1


def test_rooms_and_parts_are_those_of_the_two_designs(cold, found):
    before = hl.size(cold)
    for number, rooms in found.remedy_rooms.groupby("number"):
        after = hl.size(found.with_remedies(int(number)))
        assert rooms["margin_before_w"].tolist() == pytest.approx(before.rooms["margin_w"].tolist(), abs=0.01)
        assert rooms["margin_after_w"].tolist() == pytest.approx(after.rooms["margin_w"].tolist(), abs=0.01)
    summed = found.remedy_parts.groupby("number")["price_change"].sum()
    stated = found.remedies.set_index("number")["price_change"]
    assert stated.notna().sum() >= 3
    for number, price in summed[stated[summed.index].notna()].items():
        assert price == pytest.approx(stated[number], abs=1e-6)


def test_progress_names_each_survey_that_is_sized(found, said):
    assert len(said) == found.summary["tried"]
    assert "temperature drop of loop Annexe from 15.0 to 2.0 K" in said


def test_heat_loss_removed_is_that_of_the_build_up(cold, found):
    rows = found.remedies[found.remedies["kind"] == "building"]
    assert len(rows) >= 3
    for row in rows.to_dict("records"):
        changed = hl.size(found.with_remedies(row["number"])).summary["heat_loss_w"]
        before = hl.size(cold).summary["heat_loss_w"]
        assert row["removed_w_k"] == pytest.approx((before - changed) / (21.0 - cold.project.outdoor_c), rel=1e-6)


def test_a_survey_that_passes_has_no_remedy(alder_lodge):
    found = hl.improve(alder_lodge.survey)
    assert len(found.remedies) == 0
    assert found.summary["tried"] == 0
    assert "no remedy is required" in " ".join(str(found).split())


def test_remedies_of_one_thing_and_numbers_that_are_not_there_are_errors(found):
    rows = found.remedies
    drops = rows[rows["kind"] == "smaller drop"]["number"].tolist()
    with pytest.raises(hl.InputError, match="numbers: found 99; required: numbers of remedies, 1 to"):
        found.with_remedies(99)
    with pytest.raises(hl.InputError, match="which change the same thing"):
        found.with_remedies(drops[0], drops[0])


def test_the_cheapest_survey_passes_and_is_the_one_of_its_row(cold, found):
    (row,) = found.cheapest_surveys.to_dict("records")
    assert (row["flow_temp_c"], row["found"], row["rooms_short"]) == (65.0, True, 1)
    design = hl.size(found.cheapest_survey())
    assert design.summary["checks_failed"] == 0
    assert design.summary["checks_caution"] == row["checks_caution"]
    assert row["bound"] <= row["price_change"] + 1e-6
    assert hl.size(cold).summary["checks_failed"] == 1
    with pytest.raises(hl.InputError, match=r"found 50\.0, which was not searched; required: 65"):
        found.cheapest_survey(50.0)


def test_the_energy_of_a_year_is_that_of_the_cheapest_survey(cold, found):
    year = hl.read_year(DATA / "mill-annexe" / "year.toml")
    dated = hl.improve(cold, PRICES, flow_temps_c=[30.0, 65.0], year=year)
    none, row = dated.cheapest_surveys.to_dict("records")
    expected = hl.yearly_energy(dated.cheapest_survey(65.0), year).summary["cost"]
    assert row["yearly_cost"] == pytest.approx(expected, rel=1e-9)
    assert (none["found"], np.isnan(none["yearly_cost"])) == (False, True)
    assert "Energy of a year: cost in EUR, with the weather curve; invented weather and boiler." in str(dated)
    assert found.cheapest_surveys["yearly_cost"].isna().all()
    assert "Energy of a year" not in str(found)


def test_without_prices_profile_is_the_measure_at_each_flow_temperature(cold):
    """From a temperature at which no remedy suffices to one at which none is required, in a table and a figure."""
    found = hl.improve(cold, flow_temps_c=[69.0, 30.0, 66.0])
    assert found.remedies["price_change"].isna().all()
    printed = " ".join(str(found).split())
    assert "Then: less profile added, because no prices are given. - Then: fewer cautions." in printed
    assert "combinations keep the flow temperature of the survey, or the flow temperature requested." in printed
    table = found.cheapest_surveys
    assert table["flow_temp_c"].tolist() == [30.0, 66.0, 69.0]
    assert table["found"].tolist() == [False, True, True]
    assert table["note"].iloc[0]
    assert table["remedies"].iloc[2] == ""
    assert table["profile_added_m"].iloc[1] >= table["profile_added_m"].iloc[2] == 0.0
    assert found.cheapest_survey(66.0).project.flow_temp_c == 66.0
    text = found.plot().alt_text
    assert "69.0 °C: 0.00 m" in text
    assert "None found at 30.0 °C" in text
    assert "Cheapest design in which no check fails" in str(found)


@pytest.mark.parametrize(
    ("wrong", "place"),
    [({"flow_temps_c": 50.0}, "flow_temps_c"), ({"flow_temps_c": [99.0]}, "flow_temps_c"),
     ({"max_tries": 0}, "max_tries"), ({"prices": 3}, "prices")],
)  # fmt: skip
def test_wrong_arguments_are_named(cold, wrong, place):
    with pytest.raises(hl.InputError, match=f"improve: {place}"):
        hl.improve(cold, **wrong)


def test_comments_are_kept_in_the_changed_copy_and_nothing_is_overwritten(tmp_path, found):
    source = DATA / "mill-annexe" / "survey.toml"
    path = found.save(tmp_path / "better.toml", 1)
    assert path.read_text(encoding="utf-8").count("#") == source.read_text(encoding="utf-8").count("#")
    assert hl.read_survey(path).loops == found.with_remedies(1).loops
    assert hl.size(path).summary["checks_failed"] == 0
    with pytest.raises(hl.InputError, match="a file there already"):
        found.save(path, 1)
    with pytest.raises(hl.InputError, match="the name of a new file"):
        found.save(tmp_path / "better.csv", 1)
    book = found.save(tmp_path / "better.xlsx", 1)
    assert hl.read_survey(book).loops == found.with_remedies(1).loops
