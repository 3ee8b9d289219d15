"""The public interface: its names and signatures are kept on file, documented, and all that a user needs."""

from __future__ import annotations

import inspect
import pickle
import re
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

import heatloop as hl
from heatloop.text.table_set import Table
from tests.helpers.paths import DATA, ROOT
from tests.helpers.public_api import public_api

ON_FILE = Path(__file__).parent / "public_api.txt"
MILL = DATA / "mill-annexe" / "survey.toml"


def test_the_interface_is_that_on_file():
    assert public_api() == ON_FILE.read_text(encoding="utf-8"), (
        "the public interface has changed: if that is meant, write it anew by "
        "python -c 'from tests.helpers.public_api import public_api as p; print(p(), end=\"\")' > "
        "tests/unit/public_api.txt"
    )


def test_dir_has_the_public_names_alone():
    code = "import heatloop as hl; hl.size; hl.plotting; print(*dir(hl))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.split() == sorted(hl.__all__)


@pytest.mark.parametrize("module", ["plotting", "build"])
def test_dir_of_a_public_module_has_its_public_names_alone(module):
    assert dir(getattr(hl, module)) == sorted(getattr(hl, module).__all__)


def test_a_name_that_is_not_public_is_an_error():
    for name in ("parts", "price", "commission", "fewer_bars", "sise"):
        with pytest.raises(AttributeError, match=f"no attribute '{name}'"):
            getattr(hl, name)


def test_no_name_is_a_folder_but_physics():
    folders = {path.name for path in Path(hl.__file__).parent.iterdir() if path.is_dir()}
    assert folders & set(hl.__all__) == {"physics"}


def test_every_module_of_physics_comes_when_asked_for():
    code = "import heatloop as hl; print(*(getattr(hl.physics, name).__name__ for name in dir(hl.physics)))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.split() == [f"heatloop.physics.{name}" for name in sorted(hl.physics.__all__)]
    with pytest.raises(AttributeError, match="no attribute 'steam'"):
        hl.physics.steam  # noqa: B018


FUNCTIONS = [name for name in sorted(hl.__all__) if inspect.isfunction(getattr(hl, name))]
CLASSES = [name for name in sorted(hl.__all__) if inspect.isclass(getattr(hl, name))]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_has_all_sections_of_its_docstring(name):
    function = getattr(hl, name)
    text = inspect.getdoc(function)
    parameters = [parameter for parameter in inspect.signature(function).parameters if parameter not in ("self", "cls")]
    for parameter in parameters:
        assert f"\n{parameter} : " in text, parameter
    required = [*(["Parameters", "Returns", "Raises"] if parameters else []), "Examples"]
    places = [text.index(f"\n{section}\n{'-' * len(section)}\n") for section in required]
    assert places == sorted(places)


@pytest.mark.parametrize("name", CLASSES)
def test_a_class_has_attributes_and_an_example(name):
    text = inspect.getdoc(getattr(hl, name))
    assert "\nAttributes\n----------\n" in text or "\nParameters\n----------\n" in text
    assert "\nExamples\n--------\n>>> import heatloop as hl\n" in text


@pytest.mark.parametrize("name", CLASSES)
def test_tables_of_a_class_are_named_in_its_docstring(name):
    """Every table under Attributes, and none that is not there."""
    value = getattr(hl, name)
    tables = {member for member in dir(value) if isinstance(inspect.getattr_static(value, member), Table)}
    lines = re.findall(r"^([\w, ]+) : pandas\.DataFrame$", inspect.getdoc(value), re.M)
    named = {table for line in lines for table in line.split(", ")}
    assert named >= tables
    assert not [table for table in named if not hasattr(value, table) and table not in value.__dataclass_fields__]


WITHOUT_EXAMPLE = {
    "BarSaving.summary", "BarSaving.survey_lines", "Design.measured_rooms", "Design.plots", "Design.show",
    "Design.survey", "Estimate.answer", "InputError.add_note", "InputError.with_traceback",
    "InteractiveDesign.widget", "PlanTrace.issues", "PlanTrace.lengths", "PlanTrace.rooms", "PlanTrace.widget",
}  # fmt: skip
"""Properties without an example of their own, which the class shows in its example, and methods of every exception."""


def documented(value):
    """What a member is documented by: a property by its getter."""
    return inspect.getdoc(getattr(value, "fget", None) or getattr(value, "func", None) or value) or ""


def test_every_member_but_tables_has_an_example():
    without = {
        f"{name}.{member}"
        for name in CLASSES
        for member, value in inspect.getmembers_static(getattr(hl, name))
        if not member.startswith("_") and not isinstance(value, Table)
        if callable(value) or isinstance(value, property | classmethod | staticmethod) or hasattr(value, "func")
        if ">>> " not in documented(value)
    }
    assert without == WITHOUT_EXAMPLE


def test_every_formula_and_builder_has_an_example():
    modules = [hl.build, *(getattr(hl.physics, name) for name in ("valves", "water", "friction", "emitters", "ducts"))]
    modules += [getattr(hl.physics, name) for name in ("pressurisation", "thermal_expansion", "heat_transfer")]
    assert all(">>> " in module.__doc__ for module in (hl.build, hl.physics, hl.plotting))
    for module in modules:
        for name, value in inspect.getmembers(module, inspect.isfunction):
            if (
                not name.startswith("_")
                and value.__module__.startswith(module.__name__)
                and name != "write_water_table"
            ):
                assert ">>> " in inspect.getdoc(value), f"{module.__name__}.{name}"


def test_help_reads_like_a_manual_page():
    code = "import heatloop as hl; help(hl.size)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    for words in ("size(survey:", "Parameters", "Returns", "Raises", "See Also", "Examples", "InputError"):
        assert words in done.stdout


def test_results_pickle(mill_annexe, parts, first_fix, commissioning):
    for result in (mill_annexe, parts, first_fix, commissioning, mill_annexe.simulate(outdoor_c=5.0)):
        again = pickle.loads(pickle.dumps(result))
        assert type(again) is type(result)
        assert again.tables.keys() == result.tables.keys()
        for name, frame in result.tables.items():
            pd.testing.assert_frame_equal(again.tables[name], frame)
        assert again.to_dict() == result.to_dict()


def test_results_are_printed_and_shown_with_the_columns_of_their_tables(mill_annexe, parts, first_fix, commissioning):
    point = mill_annexe.simulate(outdoor_c=5.0)
    for result in (mill_annexe, parts, first_fix, commissioning, point, mill_annexe.survey):
        title = result.summary_block().title
        assert title.startswith("Mill Annexe")
        assert str(result).startswith(title)
        assert title in result._repr_html_()


def test_a_pickled_design_goes_on(mill_annexe):
    again = pickle.loads(pickle.dumps(mill_annexe))
    assert again.parts().summary["pieces"] == len(mill_annexe.parts().pieces)
    assert again.simulate(outdoor_c=5.0).to_dict() == mill_annexe.simulate(outdoor_c=5.0).to_dict()


def test_steps_give_the_classes_that_are_public(mill_annexe, parts, first_fix, commissioning):
    assert isinstance(parts, hl.PartsList)
    assert isinstance(first_fix, hl.FirstFix)
    assert isinstance(commissioning, hl.Commissioning)
    assert isinstance(mill_annexe.simulate(), hl.OperatingPoint)
    saving = mill_annexe.save_bars()
    assert isinstance(saving, hl.BarSaving)
    assert isinstance(saving.design, hl.Design)
    assert isinstance(hl.lowest_flow_temperature(MILL).design, hl.Design)
    assert isinstance(parts.price(DATA / "alder-lodge" / "prices.csv"), hl.Quotation)
    assert hl.Design.of(mill_annexe) is mill_annexe


def test_resize_gives_what_size_of_the_changed_survey_gives(mill_annexe):
    survey = mill_annexe.survey.with_flow_temp(60.0)
    found, fresh = mill_annexe.resize(flow_temp_c=60.0), hl.size(survey)
    assert found.survey == survey
    assert found.tables.keys() == fresh.tables.keys()
    for name, table in fresh.tables.items():
        pd.testing.assert_frame_equal(found.tables[name], table, rtol=1e-7, atol=1e-6)
    assert mill_annexe.resize(survey).survey == survey
    with pytest.raises(TypeError, match="flow_c"):
        mill_annexe.resize(flow_c=60.0)


def test_files_are_written_for_what_is_given(mill_annexe, parts, commissioning, tmp_path):
    names = {path.name for path in mill_annexe.write_files(tmp_path, commissioning, parts)}
    assert {"design.xlsx", "design.json", "labels.html", "commissioning.html", "parts.csv"} <= names
    assert "first_fix.csv" not in names
    with pytest.raises(hl.InputError, match="result 1: found 3; required: a PartsList, FirstFix or Commissioning"):
        mill_annexe.write_files(tmp_path, 3)
    with pytest.raises(hl.InputError, match="two results of the kind PartsList"):
        mill_annexe.write_files(tmp_path, parts, parts)
