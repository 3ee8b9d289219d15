"""A study: rows of all dwellings, in whichever process they are sized, once each, also after a stop."""

import json
import multiprocessing
import pickle
import shutil
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pandas as pd
import pytest

import heatloop as hl
from heatloop.report.files.export import ReportError
from heatloop.workflows.study import task
from heatloop.workflows.study.cases import Case
from tests.helpers.many_dwellings import deviations
from tests.helpers.paths import DATA
from tests.helpers.studies import FEW, TABLES, assert_same, files_of, lodges, small_houses

MILL = DATA / "mill-annexe" / "survey.toml"
CLOSE = 1e-6


@pytest.fixture(scope="module")
def houses(tmp_path_factory):
    return small_houses(tmp_path_factory.mktemp("houses"))


@pytest.fixture(scope="module")
def undisturbed(houses, tmp_path_factory):
    return hl.study(houses, tmp_path_factory.mktemp("results"), task_size=2, executor=1)


def copied(study, folder):
    """A copy of a study that may be disturbed."""
    shutil.copytree(study.folder, folder)
    return folder


def times(folder):
    return {name: (folder / name).stat().st_mtime_ns for name in files_of(folder) if name.endswith(".parquet")}


def test_the_rows_are_those_of_size_many_and_of_size(houses, undisturbed):
    paths = sorted(houses.glob("*/survey.toml"))
    together = hl.SizedDwellings.joined(hl.size_many(paths, [path.parent.name for path in paths]))
    assert undisturbed.complete
    assert len(undisturbed.dwellings) == FEW
    for name in TABLES:
        frame = getattr(undisturbed, name)
        expected = getattr(together, name)
        pd.testing.assert_frame_equal(frame[expected.columns], expected, rtol=CLOSE, atol=CLOSE)
    assert undisturbed.dwellings["survey"].tolist() == [f"house-{n:02d}/survey.toml" for n in range(FEW)]
    for path in paths[:3]:
        worst = deviations(undisturbed, path.parent.name, hl.size(path))
        assert max(worst.values()) < CLOSE, worst


def test_surveys_held_in_python_are_sized_as_files_are(tmp_path):
    surveys = lodges(2)
    found = hl.study(surveys, tmp_path, task_size=1, executor=2)
    for survey in surveys:
        assert max(deviations(found, survey.project.name, hl.size(survey)).values()) < CLOSE
    assert len(hl.study(surveys, tmp_path, task_size=1, executor=1).rooms) == len(found.rooms)  # the same study
    assert len(pickle.loads(pickle.dumps(found)).by_flow_temp) == 2
    with pytest.raises(ReportError, match="before their surveys or catalogues were changed"):
        hl.study([surveys[0], surveys[1].with_outdoor(-9.5)], tmp_path, task_size=1, executor=1)


def test_processes_continue_a_study_and_give_the_same_rows(houses, undisturbed, tmp_path):
    """On as many processes as there are processors."""
    folder = copied(undisturbed, tmp_path / "results")
    for number in (0, 2, 3, 5):
        (folder / "dwellings" / f"part-{number:06d}.parquet").unlink()
    before = times(folder)
    assert_same(hl.study(houses, folder, task_size=2), undisturbed)
    after = times(folder)
    own = [name for name in before if name.startswith("dwellings/")]
    assert len(own) == 2
    assert [after[name] for name in own] == [before[name] for name in own]


def test_a_process_that_ends_early_is_one_line_and_the_study_continues(houses, undisturbed, tmp_path):
    killed = []

    def kill_one(_):
        if not killed and (begun := multiprocessing.active_children()):
            killed.append(begun[0])
            begun[0].kill()

    with pytest.raises(ReportError, match="a process ended early") as found:
        hl.study(houses, tmp_path, task_size=1, executor=2, progress=kill_one)
    assert killed
    assert len(str(found.value).splitlines()) == 1
    assert found.value.__notes__ == ["the results so far are kept, and the same study continues with them"]
    assert_same(hl.study(houses, tmp_path, task_size=1, executor=1), undisturbed)


def test_any_executor_gives_the_same_rows(houses, undisturbed, tmp_path):
    with ThreadPoolExecutor(1) as executor:
        assert_same(hl.study(houses, tmp_path, task_size=5, executor=executor), undisturbed)


def test_only_missing_tasks_are_done_again_and_what_was_being_written_is_removed(houses, undisturbed, tmp_path):
    folder = copied(undisturbed, tmp_path / "results")
    files = files_of(folder)
    gone = ["dwellings/part-000001.parquet", "rooms/part-000003.parquet"]
    for name in gone:
        (folder / name).unlink()
    left = folder / "loops" / f"part-000004.parquet.{'0' * 32}.writing"
    left.write_bytes(b"half a file")
    before = times(folder)
    partly = hl.read_study(folder)
    assert not partly.complete
    assert len(partly.dwellings) == FEW - 4
    assert "Not complete" in str(partly)
    said = []
    found = hl.study(houses, folder, task_size=2, executor=1, progress=said.append)
    assert_same(found, undisturbed)
    assert files_of(folder) == files
    kept = {name for name, time in times(folder).items() if time == before.get(name)}
    done_again = {name for name in times(folder) if name.endswith(("000001.parquet", "000003.parquet"))}
    assert kept == set(times(folder)) - done_again
    assert said[1:] == ["8 of 12 cases", "10 of 12 cases", "12 of 12 cases", "writing the page"]


def test_a_whole_study_is_not_done_again(houses, undisturbed, tmp_path):
    folder = copied(undisturbed, tmp_path / "results")
    before = times(folder)
    assert_same(hl.study(houses, folder, task_size=2, executor=1), undisturbed)
    assert times(folder) == before


def test_the_folder_of_another_study_is_refused(houses, undisturbed, tmp_path):
    folder = copied(undisturbed, tmp_path / "results")
    before = files_of(folder)
    for surveys, size, found in (
        (houses, 3, "a study in tasks of 2 cases"),
        ([MILL], 2, "a study of other cases"),
    ):
        with pytest.raises(ReportError, match=found) as refused:
            hl.study(surveys, folder, task_size=size, executor=1)
        assert len(str(refused.value).splitlines()) == 1
    manifest = json.loads((folder / "study.json").read_text())
    (folder / "study.json").write_text(json.dumps({**manifest, "version": "0.0.1"}))
    with pytest.raises(ReportError, match=r"by version 0\.0\.1 of heatloop"):
        hl.study(houses, folder, task_size=2, executor=1)
    (folder / "study.json").write_text("{}")
    with pytest.raises(ReportError, match="no manifest of a study"):
        hl.study(houses, folder, task_size=2, executor=1)
    assert files_of(folder) == before


@pytest.mark.parametrize("changed", ["house-03/survey.toml", "catalogue.toml"])
def test_a_changed_survey_or_catalogue_is_another_study(tmp_path, changed):
    houses = small_houses(tmp_path / "houses", 4)
    hl.study(houses, tmp_path / "results", executor=1)
    with (houses / changed).open("a") as file:
        file.write("\n# changed\n")
    with pytest.raises(ReportError, match="the same cases before their surveys or catalogues were changed"):
        hl.study(houses, tmp_path / "results", executor=1)


def test_a_folder_with_other_files_is_refused_and_results_may_be_inside_the_surveys(tmp_path):
    houses = small_houses(tmp_path / "houses", 2)
    with pytest.raises(ReportError, match=r"found catalogue\.toml, which is of no study"):
        hl.study(houses, houses, executor=1)
    found = hl.study(houses, houses / "results", executor=1)
    assert_same(hl.study(houses, houses / "results", executor=1), found)


def test_a_folder_in_use_is_refused(houses, tmp_path):
    fcntl = pytest.importorskip("fcntl", reason="this system has no locks of files")
    hl.study(houses, tmp_path / "results", executor=1)
    with (tmp_path / "results" / "study.lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        with pytest.raises(ReportError, match="in use by another run"):
            hl.study(houses, tmp_path / "results", executor=1)


def test_surveys_held_in_python_at_other_flow_temperatures(tmp_path):
    survey = lodges(1)[0]
    found = hl.study([survey], tmp_path, flow_temps_c=[54], executor=1)
    design = hl.size(survey.with_flow_temp(54.0))
    assert max(deviations(found, "Dwelling 0 at 54 °C", design).values()) < CLOSE


def test_a_case_that_fails_is_a_row_with_its_fault(tmp_path):
    houses = small_houses(tmp_path / "houses", 3)
    (houses / "house-01" / "survey.toml").write_text("[project]\nname = 5\n")
    (houses / "broken.toml").write_text("[project")
    (houses / "odd.xlsx").write_bytes(b"no workbook")
    found = hl.study(houses, tmp_path / "results", executor=1)
    rows = found.dwellings.set_index("dwelling")
    assert rows.index.tolist() == ["broken", "house-00", "house-01", "house-02", "odd"]
    assert rows["sizing"].tolist() == ["not sized", "in a lot", "not sized", "in a lot", "not sized"]
    assert "house-01/survey.toml: project, name: found 5" in rows.loc["house-01", "fault"]
    assert rows.loc["house-00", "fault"] == ""
    assert np.isnan(rows.loc["broken", "heat_loss_w"])
    assert set(found.faults["dwelling"]) == {"broken", "house-01", "odd"}
    assert found.summary == {"dwellings": 5, "no_failed_check": 2, "caution": 2, "failed": 0, "not_sized": 3}
    assert found.failed_or_not_sized["dwelling"].tolist() == ["broken", "house-01", "odd"]
    by_temp = found.by_flow_temp.set_index("flow_temp_c")
    assert by_temp.index.tolist()[0] == 70.0
    assert np.isnan(by_temp.index[1])
    assert by_temp[["no_failed_check", "not_sized"]].values.tolist() == [[2, 0], [0, 3]]
    assert "Water of 70.0 °C: 2 of 2 cases with no failed check (100 %)." in found.html()
    assert "3 of the cases cannot be sized" in found.html()


def test_an_error_of_the_program_in_one_dwelling_is_its_fault(monkeypatch):
    whole = task.size_many

    def faulty(surveys, names):
        if "second" in names:
            raise KeyError("a fault")
        return whole(surveys, names)

    monkeypatch.setattr(task, "size_many", faulty)
    frames = task.case_rows([Case(name, MILL, "survey.toml") for name in ("first", "second")])
    assert frames["dwellings"]["sizing"].tolist() == ["in a lot", "not sized"]
    assert frames["faults"]["fault"].tolist() == ["error of the program: KeyError: 'a fault'"]


def test_flow_temperatures_are_those_of_with_flow_temp(tmp_path):
    temps = [45.0, 55.0, 70.0]
    found = hl.study(MILL, tmp_path, flow_temps_c=temps, executor=1)
    held = hl.read_survey(MILL)
    sized = [next(hl.size_many([held.with_flow_temp(temp)])).rooms["margin_w"].iloc[0] for temp in temps]
    assert found.rooms["margin_w"].tolist() == pytest.approx(sized, rel=CLOSE)
    assert found.by_flow_temp[["flow_temp_c", "no_failed_check", "failed"]].values.tolist() == [
        [45, 0, 1],
        [55, 0, 1],
        [70, 1, 0],
    ]
    counts = ["dwellings", "no_failed_check", "caution", "failed", "not_sized"]
    assert found.summary == found.by_flow_temp[counts].sum().to_dict()
    assert sum(found.summary[key] for key in ("no_failed_check", "failed", "not_sized")) == 3
    short = found.failed_or_not_sized.set_index("dwelling").loc["mill-annexe at 45 °C"]
    assert short["max_shortage_room"] == "Annexe"
    assert short["shortage_w"] == pytest.approx(-sized[0], rel=CLOSE)
    assert short["failed_checks"] == "heat to the room"


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"surveys": []}, "surveys: found no survey"),
        ({"surveys": [MILL, 5]}, "survey 2: found 5"),
        ({"surveys": 5}, "surveys: found 5"),
        ({"task_size": 0}, "task_size: found 0"),
        ({"executor": 0}, r"executor \(--jobs\): found 0"),
        ({"flow_temps_c": [45.0, "warm"]}, 'flow_temps_c: found "warm"'),
        ({"flow_temps_c": [450.0]}, "from 20 to 110 °C"),
    ],
)
def test_wrong_arguments_begin_nothing(tmp_path, arguments, message):
    with pytest.raises(hl.InputError, match=message):
        hl.study(**{"surveys": [MILL], "folder": tmp_path / "results", **arguments})
    assert not (tmp_path / "results").exists()


def test_a_folder_without_surveys_or_results_is_refused(tmp_path):
    with pytest.raises(hl.InputError, match="found no survey"):
        hl.study(tmp_path, tmp_path / "results")
    with pytest.raises(ReportError, match=r"found no study\.json"):
        hl.read_study(tmp_path)
