"""Every table of every result is described once: columns, units by their names, the schema of the JSON form."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pandas as pd
import pytest

import heatloop as hl
from heatloop.diagnosis.diagnosis import Diagnosis
from heatloop.handover.first_fix.plan import plan_first_fix
from heatloop.report.columns.registry import RESULTS, TABLES
from heatloop.report.files.design_schema import DESIGN_SCHEMA, design_schema, write_design_schema
from heatloop.report.files.write_all import design_json
from heatloop.results.many_dwellings.sized_dwellings import SizedDwellings
from heatloop.results.operating_point import OperatingPoint
from heatloop.text.column import TableDescription, number_column, text_column
from heatloop.text.formatting import cell_text, spreadsheet_format
from heatloop.text.table_set import Table, table_frame
from heatloop.text.units import heading_and_unit
from heatloop.workflows.publishing.publish import PublishedReport, publish_report
from tests.helpers.paths import DATA

ROOT = Path(__file__).resolve().parents[2]
DEMOS = ("alder-lodge", "mill-annexe")
ALL = (*RESULTS, OperatingPoint, Diagnosis, SizedDwellings)
WITHOUT_UNIT_IN_NAME = {"per_cent"}


@pytest.fixture(scope="module", params=DEMOS)
def design(request: pytest.FixtureRequest) -> hl.Design:
    return hl.size(ROOT / "data" / request.param / "survey.toml")


@pytest.fixture(scope="module")
def parts(design: hl.Design) -> hl.PartsList:
    return design.parts()


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> PublishedReport:
    """What is published of Mill Annexe for checking."""
    return publish_report(
        DATA / "mill-annexe" / "survey.toml", tmp_path_factory.mktemp("report") / "out", audience="check"
    )


def test_tables_hold_the_columns_of_their_descriptions_in_order(design: hl.Design, parts: hl.PartsList) -> None:
    first_fix = plan_first_fix(design.survey, design.layout)
    for result in (design, parts, first_fix, design.commissioning(), hl.simulate(design)):
        described = type(result).descriptions()
        assert set(result.frames) == set(described)
        for name, frame in result.frames.items():
            assert list(frame.columns) == described[name].names, name
        assert set(result.facts) <= {column.name for column in result.summary_columns}


def test_a_table_is_a_fresh_copy_with_its_columns_in_its_documentation(design: hl.Design) -> None:
    rooms = design.rooms
    rooms["heat_to_rooms_w"] = 0.0
    assert (design.rooms["heat_to_rooms_w"] != 0.0).any()
    assert isinstance(hl.Design.rooms, Table)
    assert "heat_loss_w: Heat loss, W (at the outdoor temperature of the table (EN 12831))" in str(
        hl.Design.rooms.__doc__
    )


@pytest.mark.parametrize("result", ALL, ids=lambda result: result.__name__)
def test_units_are_those_of_the_names(result: type[hl.Design]) -> None:
    tables = [*result.descriptions().values(), TableDescription("summary", "", "", result.summary_columns)]
    for table in tables:
        assert len(table.names) == len(set(table.names)), table.name
        for column in table.columns:
            if column.kind in ("number", "count", "percent", "residual") and column.name not in WITHOUT_UNIT_IN_NAME:
                unit = heading_and_unit(column.name)[1] if column.kind != "residual" else ""
                assert column.unit == ("%" if column.kind == "percent" else unit), f"{table.name}.{column.name}"


def test_rows_of_other_columns_are_refused() -> None:
    described = TableDescription("some", "Some", "", (text_column("a", "A"), number_column("b_m", "B", "m", 1)))
    assert list(table_frame(described, [{"b_m": 1.0, "a": "x"}]).iloc[0]) == ["x", 1.0]
    assert list(table_frame(described, []).columns) == ["a", "b_m"]
    for row in ({"a": "x"}, {"a": "x", "b_m": 1.0, "c": 2}, ("x",)):
        with pytest.raises(ValueError, match="some has other columns"):
            table_frame(described, [row])


def test_the_cells_of_a_workbook_show_what_is_written_elsewhere() -> None:
    for description in TABLES.values():
        for column in description.columns:
            if column.kind == "number":
                places = spreadsheet_format(column, 1.0).split(";")[0].partition(".")[2]
                assert len(places) == len(cell_text(column, 1.0).partition(".")[2]), column.name


def test_the_stored_schema_is_current_and_the_designs_fit_it(
    design: hl.Design, parts: hl.PartsList, published: PublishedReport, tmp_path: Path
) -> None:
    stored = (ROOT / "docs" / DESIGN_SCHEMA).read_text(encoding="utf-8")
    assert write_design_schema(tmp_path).read_text(encoding="utf-8") == stored
    validator = jsonschema.Draft202012Validator(design_schema())
    validator.check_schema(validator.schema)
    for form in (design.to_dict(), design_json(design, parts, None, design.commissioning())):
        validator.validate(json.loads(json.dumps(form)))
    assert published.json_file is not None
    validator.validate(json.loads(published.json_file.read_text(encoding="utf-8")))


@pytest.mark.parametrize("place", ["column more", "column less", "words for a number", "table less"])
def test_the_schema_refuses_what_is_no_design(design: hl.Design, place: str) -> None:
    form = json.loads(json.dumps(design.to_dict()))
    match place:
        case "column more":
            form["rooms"][0]["colour"] = "blue"
        case "column less":
            del form["loops"][0]["flow_l_h"]
        case "words for a number":
            form["loops"][0]["flow_l_h"] = "151"
        case _:
            del form["checks"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(form, design_schema())


def test_missing_values_of_every_kind_are_blank_or_a_dash() -> None:
    for description in TABLES.values():
        for column in description.columns:
            for missing in (None, float("nan"), pd.NA):
                assert cell_text(column, missing) in ("", "–"), column.name
