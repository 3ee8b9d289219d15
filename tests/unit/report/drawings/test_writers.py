"""First-fix sheets as files: paper, fonts and text of the PDF, places in the DXF, words of the SVG."""

from __future__ import annotations

import datetime as dt
import math
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest

import heatloop as hl
from heatloop.handover.first_fix.model import PipeEnd, PipePosition
from heatloop.handover.first_fix.plan import FirstFixResult, plan_first_fix
from heatloop.layout.build import build_layout
from heatloop.layout.plan_coordinates import plan_points, rooms_by_storey
from heatloop.layout.walls import straight_runs
from heatloop.report.control.control import DocumentControl, document_control
from heatloop.report.drawings.first_fix_sheets import first_fix_sheets
from heatloop.report.drawings.geometry import DrawingSheet
from heatloop.report.drawings.writers.sheet_dxf import LAYERS, write_sheets_dxf
from heatloop.report.drawings.writers.sheet_pdf import write_sheets_pdf
from heatloop.report.drawings.writers.sheet_svg import sheet_svg
from heatloop.report.files.first_fix_drawings import write_first_fix
from tests.helpers.many_rooms import house_of_twenty_rooms

DAY = dt.date(2026, 11, 29)
MM_PT = 72.0 / 25.4
ROW = re.compile(
    r"^\s*(?P<pipe>\d+[a-z]?) (?P<way>[FR])\s+(?:(?P<room>\S.*?), (?P<walls>\d+(?: \+ \d+)*)\s+)?"
    r"(?P<left>\d+)\s+\((?P<right>\d+)\)\s+(?P<height>\d+|in floor)\s+(?P<off>[\d.]+)\s+"
    r"(?:(?P<word>hole|sleeve) )?(?P<opening>[\d.]+)\s+(?P<drop>\d+|–)\s+(?P<type>[A-Z]+)\s+(?P<to>\S.*?)\s*$"
)  # fmt: skip

needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")


@pytest.fixture(scope="module")
def fix(alder_draft: hl.Design) -> FirstFixResult:
    return plan_first_fix(alder_draft.survey, alder_draft.layout)


@pytest.fixture(scope="module")
def control(fix: FirstFixResult) -> DocumentControl:
    return document_control(fix.survey, None, made_on=DAY)


@pytest.fixture(scope="module")
def sheets(fix: FirstFixResult, control: DocumentControl) -> tuple[DrawingSheet, ...]:
    return first_fix_sheets(fix, control)


@pytest.fixture(scope="module")
def pdf(sheets: tuple[DrawingSheet, ...], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_sheets_pdf(tmp_path_factory.mktemp("pdf") / "first-fix.pdf", sheets, "First fix", DAY)


def _out(*command: object) -> str:
    return subprocess.run([str(one) for one in command], capture_output=True, text=True, check=True).stdout


def _rows(path: Path) -> list[dict[str, str]]:
    """The rows of the table as a reader of text finds them, in both halves of every page."""
    pages = int(re.search(r"Pages:\s+(\d+)", _out("pdfinfo", path)).group(1))  # type: ignore[union-attr]
    middle, wide, high = round(230.0 * MM_PT), round(420.0 * MM_PT), round(297.0 * MM_PT)
    found = []
    for page in range(1, pages + 1):
        for x, w in ((0, middle), (middle, wide - middle)):
            area = ("-f", page, "-l", page, "-x", x, "-y", 0, "-W", w, "-H", high)
            for line in _out("pdftotext", "-layout", *area, path, "-").splitlines():
                if match := ROW.match(line):
                    found.append(match.groupdict())
    return found


def _pipes(fix: FirstFixResult) -> dict[str, tuple[PipePosition, PipeEnd]]:
    return {pipe.mark: (mark, pipe) for mark in fix.positions for pipe in mark.pipes}


# --- PDF -------------------------------------------------------------------------------------------------


@needs_poppler
def test_pages_are_a3_and_fonts_are_embedded(pdf: Path, sheets: tuple[DrawingSheet, ...]) -> None:
    for page in range(1, len(sheets) + 1):
        told = _out("pdfinfo", "-box", "-f", page, "-l", page, pdf)
        box = re.search(r"MediaBox:\s+([\d.]+)\s+([\d.]+)\s+([\d.]+)\s+([\d.]+)", told)
        assert box is not None
        west, south, east, north = (float(one) / MM_PT for one in box.groups())
        assert east - west == pytest.approx(420.0, abs=0.5)
        assert north - south == pytest.approx(297.0, abs=0.5)
    fonts = _out("pdffonts", pdf).splitlines()[2:]
    assert fonts
    assert all("TrueType" in line and re.search(r"\s(yes)\s+(yes)\s", line) for line in fonts)


@needs_poppler
def test_a_reader_of_text_rebuilds_every_pipe(pdf: Path, fix: FirstFixResult) -> None:
    """From the rows of the table alone, with the walls of the survey: places within half a millimetre."""
    rows, pipes = _rows(pdf), _pipes(fix)
    assert sorted(row["pipe"] for row in rows) == sorted(pipes)
    room, walls = "", ()
    worst_mm = 0.0
    for row in rows:
        mark, pipe = pipes[row["pipe"]]
        if row["room"]:
            room, walls = row["room"], tuple(int(one) for one in row["walls"].split(" + "))
        surveyed = fix.survey.room(room)
        assert walls in straight_runs(surveyed.walls)
        at_m, wall = int(row["left"]) / 1000.0, walls[0]
        for wall in walls:
            if at_m <= surveyed.walls[wall - 1].length_m or wall == walls[-1]:
                break
            at_m -= surveyed.walls[wall - 1].length_m
        geometry = fix.layout.room(room).geometry
        assert geometry is not None
        (rebuilt,) = plan_points(surveyed, geometry, wall, (at_m,), float(row["off"]) / 1000.0)
        (wanted,) = plan_points(surveyed, geometry, pipe.wall, (pipe.at_m,), mark.off_wall_m)
        worst_mm = max(worst_mm, math.dist(rebuilt, wanted) * 1000.0)
        assert row["way"] == pipe.direction[0].upper()
        assert float(row["height"]) == pytest.approx(pipe.height_m * 1000.0, abs=0.5)
        assert int(row["left"]) + int(row["right"]) == pytest.approx(
            sum(surveyed.walls[one - 1].length_m for one in walls) * 1000.0, abs=1.0
        )
        assert float(row["opening"]) == mark.opening_m * 1000.0
        assert (row["word"] or "opening") == mark.word
    assert worst_mm <= 0.5


@needs_poppler
def test_the_rows_are_those_of_the_table_of_positions(pdf: Path, fix: FirstFixResult) -> None:
    frame = fix.pipe_positions.set_index("position")
    for row in _rows(pdf):
        told = frame.loc[row["pipe"]]
        assert int(row["left"]) == round(told["from_left_m"] * 1000.0)
        assert int(row["right"]) == round(told["to_right_m"] * 1000.0)
        assert (row["drop"] == "–") == math.isnan(told["depth_below_floor_m"])


@needs_poppler
def test_all_rows_of_many_rooms_are_found_on_their_table_sheets(tmp_path: Path) -> None:
    survey = house_of_twenty_rooms()
    many = plan_first_fix(survey, build_layout(survey))
    found = first_fix_sheets(many, document_control(survey, None, made_on=DAY))
    path = write_sheets_pdf(tmp_path / "many.pdf", found, "First fix", DAY)
    assert sorted(row["pipe"] for row in _rows(path)) == sorted(_pipes(many))


def test_two_runs_write_the_same_bytes(fix: FirstFixResult, control: DocumentControl, tmp_path: Path) -> None:
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        written = write_first_fix(fix, control, tmp_path / name)
    assert len(written) == 3
    for one in written:
        assert (tmp_path / "one" / one.name).read_bytes() == (tmp_path / "other" / one.name).read_bytes()


# --- DXF -------------------------------------------------------------------------------------------------


def test_the_drawing_file_holds_every_hole_at_its_true_place(
    sheets: tuple[DrawingSheet, ...], fix: FirstFixResult, tmp_path: Path
) -> None:
    for level_m, rooms in rooms_by_storey(fix.survey, fix.layout).items():
        own = [sheet for sheet in sheets if sheet.level_m == level_m]
        document = ezdxf.readfile(write_sheets_dxf(tmp_path / f"{level_m}.dxf", own))
        assert not document.audit().errors
        assert document.units == 4
        assert set(LAYERS) <= {layer.dxf.name for layer in document.layers}
        wanted = []
        for mark in (mark for mark in fix.positions if mark.room in rooms):
            geometry, (dx, dy) = fix.layout.room(mark.room).geometry, rooms[mark.room]
            assert geometry is not None
            for pipe in mark.pipes:
                ((x, y),) = plan_points(fix.survey.room(mark.room), geometry, pipe.wall, (pipe.at_m,), mark.off_wall_m)
                wanted.append(((x + dx) * 1000.0, (y + dy) * 1000.0, mark.opening_m * 500.0))
        holes = [(one.dxf.center.x, one.dxf.center.y, one.dxf.radius) for one in document.modelspace().query(
            'CIRCLE[layer=="HL-HOLE"]')]  # fmt: skip
        assert len(holes) == len(wanted)
        for x, y, radius in wanted:
            nearest = min(holes, key=lambda one: math.dist(one[:2], (x, y)))
            assert math.dist(nearest[:2], (x, y)) <= 0.5
            assert nearest[2] == pytest.approx(radius)


def test_walls_of_the_drawing_file_are_the_surveyed_ones(
    sheets: tuple[DrawingSheet, ...], fix: FirstFixResult, tmp_path: Path
) -> None:
    document = ezdxf.readfile(write_sheets_dxf(tmp_path / "ground.dxf", sheets[:1]))
    points = [
        point for line in document.modelspace().query('LWPOLYLINE[layer=="HL-WALL"]') for point in line.get_points("xy")
    ]
    first = fix.layout.room(fix.survey.rooms[0].name).geometry
    assert first is not None
    assert first.corners_m[0] == (0.0, 0.0)
    for x, y in first.corners_m:
        assert min(math.dist(point, (x * 1000.0, y * 1000.0)) for point in points) < 0.01


def test_layouts_show_the_plan_at_its_scale_with_texts_of_the_same_height(
    sheets: tuple[DrawingSheet, ...], tmp_path: Path
) -> None:
    document = ezdxf.readfile(write_sheets_dxf(tmp_path / "ground.dxf", sheets[:1]))
    (name,) = [one for one in document.layout_names() if one != "Model"]
    views = [one for one in document.layout(name).query("VIEWPORT") if one.dxf.id != 1 and one.dxf.status != 1]
    views = views or [one for one in document.layout(name).query("VIEWPORT") if one.dxf.height < 290.0]
    window = sheets[0].window
    assert window is not None
    (view,) = [one for one in views if one.dxf.view_height == pytest.approx(one.dxf.height * window.scale)]
    assert view.dxf.flags & 16384
    heights = {round(text.dxf.height, 6) for text in document.modelspace().query("TEXT")}
    assert heights <= {2.5 * window.scale, 3.5 * window.scale}
    assert min(text.dxf.height for text in document.layout(name).query("TEXT")) >= 2.5


# --- SVG -------------------------------------------------------------------------------------------------


def test_the_svg_holds_every_text(sheets: tuple[DrawingSheet, ...]) -> None:
    for sheet in sheets:
        root = ElementTree.fromstring(sheet_svg(sheet))
        texts = [one.text for one in root.iter("{http://www.w3.org/2000/svg}text")]
        assert texts == [words.text for words in sheet.words]
        assert root.get("width") == "420mm"
        title = root.find("{http://www.w3.org/2000/svg}title")
        assert title is not None
        assert title.text == sheet.alt_text


def test_a_first_fix_without_positions_has_no_drawings(
    fix: FirstFixResult, control: DocumentControl, tmp_path: Path
) -> None:
    empty = plan_first_fix(fix.survey, fix.layout)
    assert write_first_fix(type(empty)(**{**vars(empty), "positions": ()}), control, tmp_path) == ()
    assert list(tmp_path.iterdir()) == []
