"""Many dwellings: the rows of each are those of its design, in the order given, whatever the others are."""

import gc
import tracemalloc
from dataclasses import replace

import pandas as pd
import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.results.many_dwellings import outcomes
from heatloop.survey.water_system import Bypass
from heatloop.workflows.many_dwellings.size_many import size_many
from heatloop.workflows.verdict import closed_system_results, movement_results
from tests.helpers.lot_systems import lot_survey
from tests.helpers.many_dwellings import NOT_MADE, deviations
from tests.helpers.paths import DATA, ROOT
from tests.helpers.portfolio import lodge, portfolio
from tests.helpers.random_systems import random_survey

MILL, LODGE = DATA / "mill-annexe" / "survey.toml", DATA / "alder-lodge" / "survey.toml"
LOFT = ROOT / "tests" / "surveys" / "harbour-loft" / "survey.toml"
CLOSE = 1e-6


@pytest.fixture(scope="module")
def mill():
    return hl.read_survey(MILL)


def joined(surveys, names=None, lot_size=80):
    return hl.SizedDwellings.joined(size_many(surveys, names, lot_size=lot_size))


def assert_as_designed(sized, surveys):
    names = sized.dwellings["dwelling"].tolist()
    for name, survey in zip(names, surveys, strict=True):
        faults = sized.faults[sized.faults["dwelling"] == name]["fault"].tolist()
        if faults:
            assert faults == faults_of(survey), name
            continue
        apart = {column: by for column, by in deviations(sized, name, hl.size(survey)).items() if not by < CLOSE}
        assert not apart, name


def faults_of(survey):
    with pytest.raises(InputError) as raised:
        hl.size(survey)
    return str(raised.value).splitlines()


def test_rows_of_the_demonstration_houses_are_those_of_their_designs():
    """Other emitters, a mixed trunk, two arms with valves, floor sections, estimated rooms."""
    sized = joined([LODGE, MILL, LOFT])
    assert sized.dwellings["sizing"].tolist() == ["in a lot", "in a lot", "by itself: loop without balancing valve"]
    assert sized.dwellings["dwelling"].tolist() == [str(LODGE), str(MILL), str(LOFT)]
    assert_as_designed(sized, [LODGE, MILL, LOFT])


@pytest.mark.parametrize("size_by", ["drop", pytest.param("loss", marks=pytest.mark.long)])
def test_rows_of_random_surveys_in_a_lot_are_those_of_their_designs(size_by):
    """Trunks with heat loss, mixed circuits and loops, reverse return, antifreeze, emitters alone, two arms."""
    surveys = [lot_survey(seed, size_by) for seed in range(303, 307)]
    sized = joined(surveys)
    assert (sized.dwellings["sizing"] == "in a lot").sum() >= 3
    assert_as_designed(sized, surveys)


def test_rows_with_bypasses_and_buoyancy_are_those_of_their_designs():
    """Bypasses at the source and on trunks, always open or opening at a pressure; rooms on several levels."""
    surveys = [lot_survey(seed) for seed in (300, 301, 304, 305, 312)]
    assert all(map(needs_balance, surveys))
    assert {bypass.opens_at_kpa is None for survey in surveys for bypass in survey.bypasses} == {True, False}
    sized = joined(surveys)
    assert (sized.dwellings["sizing"] == "in a lot").sum() >= 4
    assert_as_designed(sized, surveys)


def needs_balance(survey):
    return bool(survey.bypasses) or survey.project.buoyancy


def test_a_bypass_without_pressure_to_drive_it_takes_its_dwelling_out_of_the_lot():
    """The bypass is at the end of a trunk from which only a mixed circuit draws, without a pressure difference."""
    base = lot_survey(314)
    surveys = [replace(base, bypasses=(Bypass("Bypass", 1.0, trunk.name, None),)) for trunk in base.trunks]
    sized = joined(surveys)
    assert sized.dwellings["sizing"].tolist() == ["by itself: no pressure across a bypass", "in a lot"]
    assert_as_designed(sized, surveys)


def test_the_checks_that_are_not_made_are_those_that_the_words_name(monkeypatch):
    """All checks of the verdicts of three designs, less those made of the same dwellings in a lot."""
    made, add = set(), outcomes.Outcomes.add

    def recorded(self, dwelling, results):
        results = list(results)
        made.update(result.check for result in results)
        add(self, dwelling, results)

    monkeypatch.setattr(outcomes.Outcomes, "add", recorded)
    for name in ("at_most", "at_least"):
        compare = getattr(outcomes.Outcomes, name)
        monkeypatch.setattr(
            outcomes.Outcomes,
            name,
            lambda self, limit, *rest, compare=compare: (made.add(limit.check), compare(self, limit, *rest)),
        )
    paths = (LODGE, LODGE.parent / "draft.toml", MILL, LOFT)
    joined(paths)
    left_out = set()
    for path in paths:
        design = hl.size(path)
        system = [*movement_results(design.system), *closed_system_results(design.system)]
        assert not made & {result.check for result in system}
        left_out |= set(design.checks["check"]) - made
    assert left_out
    assert left_out <= NOT_MADE
    page = (ROOT / "docs" / "how-to" / "many-homes.md").read_text(encoding="utf-8")
    listed = page.split("## Checks")[1].split("\n\n")
    assert "\n".join(f"- {kind}" for kind in outcomes.NOT_MADE) in listed


def test_rows_of_houses_that_fail_many_checks_are_those_of_their_designs():
    """Short rooms, too small a source and pump, noisy valves, a slab that is smaller than its rooms."""
    surveys = [*portfolio(2, first=3), replace(lodge(), source=replace(lodge().source, output_kw=3.0))]
    sized = joined(surveys)
    assert sized.dwellings["checks_failed"].min() >= 1
    assert_as_designed(sized, surveys)


def test_rows_of_any_random_surveys_are_those_of_their_designs():
    """Those with tees or water that divides by resistance are sized by themselves, and say so."""
    surveys = [random_survey(seed) for seed in range(400, 402)]
    sized = joined(surveys)
    assert sized.dwellings["sizing"].str.startswith("by itself: ").any()
    assert_as_designed(sized, surveys)


@pytest.mark.parametrize("lot_size", [1, 2])
def test_the_size_of_lots_does_not_change_rows(lot_size):
    surveys = [lot_survey(seed) for seed in range(310, 313)]
    whole, cut = joined(surveys), joined(surveys, lot_size=lot_size)
    for name, frame in whole.tables.items():
        pd.testing.assert_frame_equal(frame, cut.tables[name], rtol=CLOSE)


def test_faults_are_rows_and_do_not_stop_the_others(mill, tmp_path):
    broken = tmp_path / "broken.toml"
    broken.write_text('[project]\nname = "Broken"\n', encoding="utf-8")
    project = mill.project
    cold = replace(mill, project=replace(project, delta_t_k=60.0))
    boiling = replace(mill, project=replace(project, flow_temp_c=140.0))
    surveys = [mill, broken, cold, tmp_path / "nowhere.toml", boiling, LODGE, 7]
    sized = joined(surveys, ["mill", "broken", "cold", "nowhere", "boiling", "lodge", "seven"])
    assert sized.dwellings["dwelling"].tolist() == ["mill", "broken", "cold", "nowhere", "boiling", "lodge", "seven"]
    assert sized.dwellings["sizing"].tolist() == ["in a lot", *["not sized"] * 4, "in a lot", "not sized"]
    assert set(sized.faults["dwelling"]) == {"broken", "cold", "nowhere", "boiling", "seven"}
    assert set(sized.rooms["dwelling"]) == set(sized.loops["dwelling"]) == {"mill", "lodge"}
    for name, survey in (("broken", broken), ("cold", cold), ("boiling", boiling)):
        assert sized.faults[sized.faults["dwelling"] == name]["fault"].tolist() == faults_of(survey)
    assert (
        sized.faults["fault"].iloc[-1] == "size_many: survey: found 7; required: a Survey, or the path of a survey file"
    )
    facts = {"dwellings": 7, "in_lots": 2, "by_themselves": 0, "not_sized": 5}
    assert {key: sized.summary[key] for key in facts} == facts
    assert set(sized.dwellings["verdict"]) == {"caution", "all met", ""}, "not all checks are made: nothing passes"
    assert "pass" not in str(sized)
    assert sized.dwellings["heat_loss_w"].isna().tolist() == [False, True, True, True, True, False, True]


def test_an_unreachable_drop_in_a_lot_leaves_the_rows_of_the_others(mill):
    """One of five dwellings that are sized together cannot cool its water so far."""
    surveys = [replace(mill, project=replace(mill.project, delta_t_k=drop)) for drop in (8.0, 10.0, 60.0, 12.0, 14.0)]
    sized = joined(surveys)
    assert sized.dwellings["sizing"].tolist() == ["in a lot", "in a lot", "not sized", "in a lot", "in a lot"]
    good = [survey for survey in surveys if survey.project.delta_t_k < 60.0]
    pd.testing.assert_frame_equal(
        sized.loops.drop(columns="dwelling"), joined(good).loops.drop(columns="dwelling"), rtol=CLOSE
    )


def test_surveys_are_read_one_lot_at_a_time(mill):
    read = []

    def surveys():
        for number in range(7):
            read.append(number)
            yield mill

    lots = size_many(surveys(), lot_size=3)
    assert read == []
    assert len(next(lots).dwellings) == 3
    assert read == [0, 1, 2]
    assert [len(lot.dwellings) for lot in lots] == [3, 1]


def test_memory_does_not_grow_from_lot_to_lot(mill):
    lots = size_many((mill for _ in range(20)), lot_size=4)
    next(lots)
    tracemalloc.start()
    next(lots)
    first, _ = tracemalloc.get_traced_memory()
    for lot in lots:
        assert len(lot.dwellings) == 4
    last, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert last < first + 200_000


@pytest.mark.parametrize("enabled", [True, False])
def test_the_garbage_collector_is_left_as_it_was(mill, enabled):
    before = gc.isenabled()
    try:
        (gc.enable if enabled else gc.disable)()
        for _ in size_many([mill, 7], lot_size=1):
            assert gc.isenabled() == enabled
        assert gc.isenabled() == enabled
    finally:
        (gc.enable if before else gc.disable)()


def test_no_surveys_give_no_lots_and_tables_without_rows():
    assert list(size_many([])) == []
    empty, full = joined([]), joined([MILL])
    assert empty.summary == dict.fromkeys(full.summary, 0)
    for name, frame in empty.tables.items():
        assert frame.empty
        assert frame.dtypes.equals(full.tables[name].dtypes), name


def test_names_differ_in_every_row(mill):
    sized = joined([mill, mill, mill, mill], lot_size=2)
    assert sized.dwellings["dwelling"].tolist() == ["Mill Annexe", *(f"Mill Annexe ({n})" for n in (2, 3, 4))]
    assert sized.rooms["dwelling"].tolist() == sized.dwellings["dwelling"].tolist()
    given = joined([mill, mill, mill], iter(["A", "A (2)", "A"]))
    assert given.dwellings["dwelling"].tolist() == ["A", "A (2)", "A (3)"]


@pytest.mark.parametrize("names", [["one"], ["one", "two", "three"]])
def test_there_are_as_many_names_as_surveys(mill, names):
    with pytest.raises(InputError, match=r"names: found .*; required: a name for each survey"):
        list(size_many([mill, mill], names))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("survey.toml",), "surveys: found "),
        ((7,), "surveys: found 7"),
        (([], "name"), "names: found "),
        (([], 7), "names: found 7"),
    ],
)
def test_wrong_arguments_are_refused_at_once(arguments, words):
    with pytest.raises(InputError, match=words):
        size_many(*arguments)


@pytest.mark.parametrize("lot_size", [0, -3, 2.5, True, "many"])
def test_a_lot_has_at_least_one_dwelling(lot_size):
    with pytest.raises(InputError, match="lot_size: found "):
        size_many([], lot_size=lot_size)


def test_a_summary_lists_dwellings_and_faults(mill, tmp_path):
    printed = str(joined([mill, tmp_path / "nowhere.toml"], ["Mill", "Nowhere"]))
    assert printed.startswith("2 dwellings\n  Sized in lots: 1; by themselves: 0; not sized: 1.")
    assert "  - Nowhere: " in printed
    assert "Mill" in printed.splitlines()[-6]
    assert repr(joined([mill])) == "<SizedDwellings: 1 dwelling>"
