"""Files of readings: read to the last row, or every fault with its line and column."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import heatloop as hl
from heatloop.diagnosis.readings import FAR_END, FLOW_TEMP, RETURN_TEMP, SURFACE_TEMP
from heatloop.diagnosis.readings_file import readings_of
from heatloop.diagnosis.readings_form import readings_text
from heatloop.workflows.diagnose import read_readings
from tests.helpers.diagnosis.readings_text import faults_of


def changed(text, old, new):
    assert text.count(old) == 1, old
    return text.replace(old, new)


def line_of(text, start):
    return next(number for number, line in enumerate(text.splitlines(), start=1) if line.startswith(start))


def test_a_good_file_is_read_to_its_last_row(design, text):
    found = readings_of(text, "visit.csv", design.system)
    assert len(found.items) == 23
    assert found.thermostatic_heads_removed is True
    assert found.hours_running == 3.0
    assert found.questions == ()
    flow = found.get(FLOW_TEMP, "Kitchen")
    assert (flow.value, flow.error, flow.line) == (48.2, 0.5, line_of(text, "flow temperature,Kitchen"))
    assert found.get(RETURN_TEMP, "Living room", 2) is not None
    assert found.get(RETURN_TEMP, "Kitchen", 1) is None


def test_what_is_written_is_read_again(design, text):
    found = readings_of(text, "visit.csv", design.system)
    again = readings_of(readings_text(found, ["a note"]), "again.csv", design.system)
    assert [(i.quantity, i.of, i.arm, i.value, i.error) for i in again.items] == [
        (i.quantity, i.of, i.arm, i.value, i.error) for i in found.items
    ]
    assert (again.thermostatic_heads_removed, again.hours_running) == (
        found.thermostatic_heads_removed,
        found.hours_running,
    )


@pytest.mark.parametrize(
    ("old", "new", "required"),
    [
        (
            "flow temperature,Kitchen,,",
            "flow temperature,Kitchn,,",
            '"of": found "Kitchn"; required: a loop of the design; the nearest is "Kitchen"',
        ),
        ("flow temperature,Kitchen,,", "flow temperature,,,", '"of": found nothing'),
        ("flow temperature,Kitchen,,", "flow temprature,Kitchen,,", 'the nearest is "flow temperature"'),
        ("outdoor temperature,,", "outdoor temperature,Hall,", '"of": found "Hall"; required: nothing: the outdoor'),
        ("source setting,,,50,degC", "source setting,,,122,degF", "required: degC; 122 °F is 50.0 °C"),
        ("source setting,,,50,degC", "source setting,,,122,degC", "read in Fahrenheit it would be 50.0 °C"),
        ("source setting,,,50,degC", "source setting,,,50,kPa", '"unit": found "kPa"; required: degC'),
        ("source setting,,,50,degC", "source setting,,,50,", '"unit": found nothing; required: degC'),
        ("source setting,,,50,degC", 'source setting,,,"50,0",degC', "a decimal point, not a comma"),
        (
            "source setting,,,50,degC",
            "source setting,,,,degC",
            '"value": found nothing; required: a number in °C, or "not',
        ),
        ("source setting,,,50,degC", "source setting,,,nan,degC", '"value": found "nan"'),
        ("source setting,,,50,degC", "source setting,,,5e1,degC", '"value": found "5e1"'),
        ("source setting,,,50,degC", "source setting,,,-50,degC", '"value": found -50 °C; required: 15 to 100 °C'),
        (
            "source setting,,,50,degC,0.5",
            "source setting,,,50,degC,",
            '"error": found nothing; required: the uncertainty of',
        ),
        ("source setting,,,50,degC,0.5", "source setting,,,50,degC,0", '"error": found "0"'),
        ("source setting,,,50,degC,0.5", "source setting,,,50,degC,-1", '"error": found "-1"'),
        ("source setting,,,50,degC,0.5", "source setting,,,50,degC,2 %", "per cent of a temperature has no meaning"),
        ("source setting,,,50,degC,0.5", 'source setting,,,50,degC,"0,5"', "a decimal point, not a comma"),
        (
            "thermostatic heads,,,off,,",
            "thermostatic heads,,,perhaps,,",
            '"value": found "perhaps"; required: "on" or "off"',
        ),
        ("hours running,,,3,h,", "hours running,,,3,h,1", '"error": found "1"; required: nothing'),
        ("room temperature,Study,,", "room temperature,Study,1,", "only return and surface temperatures are used"),
        ("return temperature,Living room,2,", "return temperature,Living room,3,", "required: a number from 1 to 2"),
        ("return temperature,Kitchen,,", "return temperature,Kitchen,1,", "required: nothing: this loop has no arms"),
        ("flow temperature,Bedrooms,,", "return temperature,Bedrooms,,", 'the return temperature of "Bedrooms" again'),
    ],
)
def test_a_fault_names_its_line_and_column(design, text, old, new, required):
    bad = changed(text, old, new)
    line = next(n for n, (a, b) in enumerate(zip(text.splitlines(), bad.splitlines(), strict=True), start=1) if a != b)
    here = [fault for fault in faults_of(bad, design) if required in fault]
    assert len(here) == 1
    if "again" not in required:
        assert here[0].startswith(f"visit.csv: line {line}, ")


def test_a_pipe_far_hotter_than_the_design_is_asked_back(design, text):
    row = next(line for line in text.splitlines() if line.startswith("flow temperature,Kitchen,,"))
    (fault,) = faults_of(text.replace(row, "flow temperature,Kitchen,,116,degC,0.5"), design)
    assert "required: -5 to 75 °C" in fault
    assert "read in Fahrenheit it would be 46.7 °C" in fault
    (fault,) = faults_of(text.replace(row, "flow temperature,Kitchen,,80,degC,0.5"), design)
    assert "read in Fahrenheit it would be 26.7 °C" in fault


def test_every_fault_is_reported_at_once_in_the_order_of_the_lines(design, text):
    bad = changed(text, "flow temperature,Kitchen,,", "flow temperature,Kitchn,,")
    bad = changed(bad, "source setting,,,50,degC,0.5", "source setting,,,122,degC,")
    kitchen, setting = line_of(bad, "flow temperature,Kitchn"), line_of(bad, "source setting")
    assert [fault.split(": found")[0] for fault in faults_of(bad, design)] == [
        "visit.csv",
        f'visit.csv: line {kitchen}, column "of"',
        f'visit.csv: line {setting}, column "value"',
        f'visit.csv: line {setting}, column "error"',
    ]


def test_a_reading_that_a_loop_lacks_is_named(design, text):
    kept = "".join(line for line in text.splitlines(keepends=True) if "return temperature,Bedrooms," not in line)
    assert [fault.split("; required:")[0] for fault in faults_of(kept, design)] == [
        'visit.csv: found no return temperature of the loop "Bedrooms"',
    ]


def test_a_file_without_any_loop_names_all_of_them(design, text):
    kept = "".join(line for line in text.splitlines(keepends=True) if "flow temperature" not in line)
    kept = "".join(line for line in kept.splitlines(keepends=True) if "return temperature" not in line)
    found = faults_of(kept, design)
    assert len(found) == 2 * len(design.survey.loops)


def test_a_row_twice_names_the_first(design, text):
    row = next(line for line in text.splitlines() if line.startswith("room temperature,Hall"))
    (fault,) = faults_of(text + row + "\n", design)
    assert f"line {line_of(text, 'room temperature,Hall')} has it" in fault
    assert f'line {len(text.splitlines()) + 1}, column "reading"' in fault


@pytest.mark.parametrize(
    ("whole", "required"),
    [
        ("", "found nothing to read"),
        ("# only a note\n\n", "found nothing to read"),
        ("reading;of;value;unit;error\nflow temperature;Kitchen;47,2;degC;0,5\n", "semicolons between the columns"),
        ("reading\tof\tvalue\tunit\terror\n", "tabs between the columns"),
        ("reading,of,value,unit\n", 'no column "error"'),
        ("reading,of,val,unit,error\n", 'no column "value" (there is "val")'),
        ("reading,of,value,value,unit,error\n", 'the column "value" twice'),
        ("reading,of,value,unit,error,colour\n", 'the column "colour"'),
        ('reading,of,value,unit,error\n"flow temperature,Kitchen,1,degC,1\n', "not a CSV record"),
    ],
)
def test_a_file_that_is_no_table_of_readings(design, whole, required):
    assert required in faults_of(whole, design)[0]


def test_a_row_with_a_bare_decimal_comma_has_too_many_fields(design, text):
    row = next(line for line in text.splitlines() if line.startswith("flow temperature,Kitchen"))
    faults = faults_of(text.replace(row, "flow temperature,Kitchen,,47,2,degC,0.5"), design)
    assert any("7 fields; required: 6" in fault and "a point in numbers" in fault for fault in faults)


@pytest.mark.parametrize(
    ("content", "required"),
    [
        (
            "reading,of,value,unit,error\nroom temperature,Hall,20,\xb0C,1\n".encode("latin-1"),
            "line 2: found the byte 0x",
        ),
        ("reading,of,value,unit,error\n".encode("utf-16"), "line 1: found the byte 0x"),
    ],
)
def test_a_file_in_another_encoding(design, tmp_path, content, required):
    path = tmp_path / "visit.csv"
    path.write_bytes(content)
    with pytest.raises(hl.InputError, match=required):
        read_readings(path, design)


def test_a_file_that_is_not_there_and_a_folder(design, tmp_path):
    with pytest.raises(hl.InputError, match="no such file"):
        read_readings(tmp_path / "none.csv", design)
    with pytest.raises(hl.InputError, match="a folder"):
        read_readings(tmp_path, design)


def test_a_spreadsheet_leaves_a_mark_carriage_returns_and_empty_columns(design, text, tmp_path):
    path = tmp_path / "visit.csv"
    rows = [line if line.startswith("#") else f"{line},,," for line in text.splitlines()]
    path.write_bytes(b"\xef\xbb\xbf" + "\r\n".join(rows).encode())
    assert [item.value for item in read_readings(path, design).items] == [
        item.value for item in readings_of(text, "visit.csv", design.system).items
    ]


def test_names_and_units_are_read_whatever_their_case(design, text):
    loud = "\n".join(line if line.startswith("#") else line.upper() for line in text.splitlines())
    assert readings_of(loud, "visit.csv", design.system).get(FLOW_TEMP, "Kitchen").value == 48.2


def test_a_flow_may_have_its_error_in_per_cent(design, text):
    found = readings_of(text + "flow,Kitchen,,100,l/h,5 %\n", "visit.csv", design.system)
    assert found.get("flow", "Kitchen").error == pytest.approx(5.0)


def questions(text, design):
    return [str(question) for question in readings_of(text, "visit.csv", design.system).questions]


def test_a_return_above_its_flow_is_asked_not_refused(design, text):
    row = next(line for line in text.splitlines() if line.startswith("return temperature,Kitchen"))
    (asked,) = questions(text.replace(row, "return temperature,Kitchen,,52,degC,0.5"), design)
    assert f'line {line_of(text, "return temperature,Kitchen")}, column "value"' in asked
    assert "are the pipes crossed?" in asked


def test_a_return_above_its_flow_by_no_more_than_the_instruments_is_not_asked(design, text):
    row = next(line for line in text.splitlines() if line.startswith("return temperature,Kitchen"))
    assert questions(text.replace(row, "return temperature,Kitchen,,47.9,degC,0.5"), design) == []


@pytest.mark.parametrize(
    ("old", "new", "required"),
    [
        ("thermostatic heads,,,off,,\n", "", "were the thermostatic heads off?"),
        ("hours running,,,3,h,\n", "", "how long had the heating run unchanged?"),
        ("outdoor temperature,,,4.1,degC,1\n", "outdoor temperature,,,18,degC,1\n", "within 5 K of the coolest room"),
        ("outdoor temperature,,,4.1,degC,1\n", "", "no outdoor temperature was read"),
    ],
)
def test_what_the_file_leaves_open_is_asked(design, text, old, new, required):
    assert any(required in asked for asked in questions(changed(text, old, new), design))


def test_water_hardly_warmer_than_the_rooms_is_asked_about(design, text):
    cooler = "".join(
        line.replace(line.split(",")[3], "30", 1) if line.startswith(("flow temp", "return temp")) else line
        for line in text.splitlines(keepends=True)
    )
    assert any("the water was at most 6 K above the rooms" in asked for asked in questions(cooler, design))


def test_a_reading_may_be_given_as_not_read(design, text):
    row = next(line for line in text.splitlines() if line.startswith("return temperature,Kitchen"))
    without = text.replace(row, "return temperature,Kitchen,,not read,degC,0.5")
    (asked,) = questions(without, design)
    assert "the return temperature of Kitchen was not read" in asked
    assert readings_of(without, "visit.csv", design.system).get(RETURN_TEMP, "Kitchen") is None


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet=st.sampled_from(list('flow temperature,Kitchen47.2degC0.5"\n;#-%\t\ufeff')), max_size=120))
def test_any_text_is_read_or_refused_with_its_issues(design, tail):
    """What is not a fault of the input would leave here as another exception."""
    issues, readings = [], None
    try:
        readings = readings_of("reading,of,arm,value,unit,error\n" + tail, "visit.csv", design.system)
    except hl.InputError as error:
        issues = error.issues
    assert (readings is None) == bool(issues)
    assert all(issue.file == "visit.csv" and issue.found for issue in issues)


# --- surfaces, and loops left out ------------------------------------------------------------------------------


def with_surface(text, row, header="channel,piece"):
    """The file with columns for surfaces, and one row of them."""
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    wide = [f"{lines[0]},{header}", *(f"{line},," for line in lines[1:])]
    return "\n".join([*wide, row]) + "\n"


def test_a_surface_is_read_with_its_channel_and_piece(design, text):
    one = with_surface(text, "surface temperature,Kitchen,,41.2,degC,0.5,2,FAR END")
    found = readings_of(one, "visit.csv", design.system)
    surface = found.items[-1]
    assert (surface.quantity, surface.of, surface.channel, surface.piece) == (SURFACE_TEMP, "Kitchen", 2, FAR_END)
    again = readings_of(readings_text(found), "again.csv", design.system)
    assert (again.items[-1].channel, again.items[-1].piece) == (2, FAR_END)


@pytest.mark.parametrize(
    ("row", "required"),
    [
        ("surface temperature,Kitchen,,41.2,degC,0.5,7,far end", '"channel": found "7"; required: a number from 1 to'),
        ("surface temperature,Kitchen,,41.2,degC,0.5,1,Kitchn 1", '"piece": found "Kitchn 1"'),
        ("surface temperature,Kitchen,,41.2,degC,0.5,1,", '"piece": found nothing'),
        ("surface temperature,Living room,,41.2,degC,0.5,1,far end", '"arm": found nothing'),
        ("source temperature,,,48,degC,0.5,1,", '"channel": found "1"; required: nothing'),
    ],
)
def test_a_surface_without_its_place_is_refused(design, text, row, required):
    assert any(required in fault for fault in faults_of(with_surface(text, row), design))


def test_loops_of_which_nothing_was_read_may_be_left_out(design, text):
    kept = [line for line in text.splitlines() if ",Bedrooms," not in line]
    found = readings_of("\n".join(kept) + "\n", "visit.csv", design.system)
    assert found.get(FLOW_TEMP, "Bedrooms") is None
    assert any("loops left out of the file: Bedrooms" in str(query) for query in found.questions)
