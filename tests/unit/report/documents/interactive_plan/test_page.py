"""The interactive plan as a file: all of a design at design conditions, names that stay names, colours, its size."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import replace
from importlib import resources

import pytest

import heatloop as hl
from heatloop.report.documents.interactive_plan.items import filled, sentence_of, source_statement
from heatloop.report.documents.interactive_plan.page import PACKAGE, interactive_plan
from heatloop.workflows.publishing.plan_states import plan_contents
from tests.helpers.handed import Handed
from tests.helpers.html_page import HtmlPage
from tests.helpers.plan_pages import PlanPage

KINDS = ("room", "loop", "piece", "pipe", "valve")
MOST_BYTES = {"one_room": 60 * 1024, "nine_rooms": 150 * 1024, "twenty_rooms": 400 * 1024}
HOSTILE = "</script><b onclick='alert(1)'>$&{0}"


@pytest.fixture(scope="module")
def page(lodge: PlanPage) -> HtmlPage:
    return HtmlPage(lodge.markup)


def _cells(markup: str, row: str) -> list[str]:
    """The texts of the cells of a row, its head first."""
    found = re.search(rf'<tr id="{row}"[^>]*>(.*?)</tr>', markup, re.DOTALL)
    assert found, row
    return [re.sub(r"<[^>]+>", "", cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", found[1], re.DOTALL)]


def _minus(text: str) -> str:
    return text.replace("-", "−")


def test_without_script_every_figure_of_the_design_is_there(lodge: PlanPage, nine_rooms: Handed) -> None:
    design = nine_rooms.design
    for place, row in enumerate(design.rooms.to_dict("records"), start=1):
        assert _cells(lodge.markup, f"row-room-{place}")[:6] == [
            f"{place} {row['room']}", f"{row['indoor_c']:g}", f"{row['heat_loss_w']:.0f}",
            f"{row['heat_to_rooms_w']:.0f}", _minus(f"{row['margin_w']:+.0f}"), f"{100 * row['coverage']:.0f}",
        ]  # fmt: skip
    for place, row in enumerate(design.loops.to_dict("records"), start=1):
        assert _cells(lodge.markup, f"row-loop-{place}")[3:] == [
            f"{row['flow_l_h']:.0f}", f"{row['flow_temp_c']:.1f}", f"{row['return_temp_c']:.1f}",
            f"{row['temperature_drop_k']:.1f}", f"{row['heat_to_rooms_w']:.0f}",
        ]  # fmt: skip
    for place, row in enumerate(design.valves.to_dict("records"), start=1):
        assert _cells(lodge.markup, f"row-valve-{place}")[-3:] == [
            str(row["nearest_setting"]), f"{row['flow_l_h']:.0f}", f"{row['pressure_drop_kpa']:.2f}",
        ]  # fmt: skip
    text = HtmlPage(lodge.markup).text
    assert nine_rooms.control.headline in text
    assert f"Heat from the source: {design.summary['source_heat_w']:.0f} W; the source can give 6000 W." in text
    assert "Design conditions: flow 50 °C at the source, −3 °C outdoors." in text


def test_pieces_and_positions_are_those_of_second_and_first_fix(lodge: PlanPage, nine_rooms: Handed) -> None:
    elements = nine_rooms.design.elements
    for place, step in enumerate(lodge.contents.steps, start=1):
        cells = _cells(lodge.markup, f"row-piece-{place}")
        assert (cells[0], cells[3]) == (step.label, f"{step.cut_length_mm:.0f}")
        own = elements[elements["label"] == step.label]
        for way, cell in zip(("flow", "return"), cells[-2:], strict=True):
            row = own[own["direction"] == way].iloc[0]
            assert cell == f"{row['inlet_temp_c']:.1f} → {row['outlet_temp_c']:.1f}"
    tails = elements[elements["kind"] == "tail"].set_index(["loop", "direction"])
    for mark in lodge.contents.first_fix.positions:
        cells = _cells(lodge.markup, f"row-pipe-{mark.number}")
        assert cells[0] == f"Position {mark.number}"
        assert [int(one) for one in re.findall(r"\d+", re.sub(r" \(.*?\)", "", cells[4]))] == [
            round(1000 * pipe.from_left_corner_m) for pipe in mark.pipes
        ]
        if mark.use == "tail":
            row = tails.loc[(mark.loop, "flow")]
            assert cells[-2] == f"{row['inlet_temp_c']:.1f} → {row['outlet_temp_c']:.1f}"
        assert "–" not in cells[-2:], "each of these positions has a flow and a return"


def test_walls_in_one_line_are_named_together_with_the_distance_on_each(lodge: PlanPage) -> None:
    assert _cells(lodge.markup, "row-pipe-12")[1] == "Hall, walls 4 + 5"
    assert _cells(lodge.markup, "row-pipe-12")[4] == "2023 return (wall 5: 473), 2048 flow (wall 5: 498)"
    assert _cells(lodge.markup, "row-pipe-24")[1] == "Landing, walls 4 + 5"
    assert _cells(lodge.markup, "row-pipe-11")[4] == "1163 flow, 1188 return", "on the first wall of its line"
    assert _cells(lodge.markup, "row-pipe-1")[1] == "Kitchen-diner, wall 3"
    walls = {step.label: _cells(lodge.markup, f"row-piece-{step.number}")[2] for step in lodge.contents.steps}
    assert (walls["Hall 4"], walls["Landing 4b"], walls["Living room 2"]) == ("4 + 5", "4 + 5", "2 + 3")


def test_everything_on_the_plan_has_its_row_and_every_row_its_place(lodge: PlanPage, page: HtmlPage) -> None:
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    links = [(attributes.get("href") or "") for tag, attributes in page.tags if tag == "a"]
    assert {link for link in links if not link.startswith("#")} == set()
    assert {link[1:] for link in links} <= set(ids)
    for kind in KINDS:
        items = len(lodge.data.kind(kind).items)
        assert items > 0
        drawn = {one for one in ids if re.fullmatch(rf"{kind}-\d+", str(one))}
        assert drawn == {f"{kind}-{place}" for place in range(1, items + 1)}
        assert {f"row-{one}" for one in drawn} <= set(ids)


def test_a_room_that_is_not_on_the_plan_has_a_row_without_a_link(harbour_loft: hl.Design, nine_rooms: Handed) -> None:
    contents = plan_contents(harbour_loft)
    assert contents is not None
    markup = interactive_plan(harbour_loft, contents, nine_rooms.control)
    unplaced = [
        place
        for place, room in enumerate(harbour_loft.survey.rooms, start=1)
        if room.name not in harbour_loft.measured_rooms
    ]
    assert unplaced
    for place in range(1, len(harbour_loft.survey.rooms) + 1):
        assert (f'href="#room-{place}"' in markup) == (place not in unplaced)
        assert _cells(markup, f"row-room-{place}")


def test_the_page_stands_alone_and_runs_its_own_script_only(lodge: PlanPage, page: HtmlPage) -> None:
    assert not {tag for tag, _ in page.tags} & {"img", "iframe", "link", "object", "embed", "form"}
    assert not re.search(r"@import|url\((?!#)|https?://(?!www\.w3\.org/2000/svg)", lodge.markup)
    assert not [name for _, attributes in page.tags for name in attributes if name.startswith("on")]
    policy = next(
        str(attributes["content"])
        for tag, attributes in page.tags
        if tag == "meta" and attributes.get("http-equiv") == "Content-Security-Policy"
    )
    script = lodge.markup.rpartition("<script>")[2].partition("</script>")[0]
    found = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    assert policy == f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{found}'"
    assert script == resources.files(PACKAGE).joinpath("page.js").read_text(encoding="utf-8")


def test_hostile_names_are_words(mill_annexe: hl.Design, nine_rooms: Handed) -> None:
    survey, (room,), (loop,) = mill_annexe.survey, mill_annexe.survey.rooms, mill_annexe.survey.loops
    arms = tuple(tuple(replace(one, room=HOSTILE) if hasattr(one, "room") else one for one in arm) for arm in loop.arms)
    design = hl.size(
        replace(
            survey,
            rooms=(replace(room, name=HOSTILE),),
            loops=(replace(loop, name=HOSTILE, arms=arms, sensor_room=HOSTILE),),
        )
    )
    contents = plan_contents(design)
    assert contents is not None
    markup = interactive_plan(design, contents, nine_rooms.control)
    assert markup.count("</script>") == 2
    assert "<b onclick" not in markup
    data = json.loads(markup.partition('id="data">')[2].partition("</script>")[0])
    assert data["kinds"]["room"]["text"][0].startswith(f"{HOSTILE}, 21 °C: heat loss \x01 W")
    assert filled(data["kinds"]["room"]["text"][0], ["1", "2", "3", "4", "warm"]).startswith(f"{HOSTILE}, 21 °C:")
    assert _cells(markup, "row-room-1")[0].startswith("1 &lt;/script&gt;")


def test_a_text_cannot_hold_the_place_of_a_value() -> None:
    assert filled(sentence_of("Hall \x01 and \x02: ", 0, " W"), ["250", "0"]) == "Hall   and  : 250 W"


def test_a_source_beyond_its_output_is_in_capitals(nine_rooms: Handed, lodge: PlanPage) -> None:
    design, point = nine_rooms.design, lodge.contents.states.points[-1]
    heat_w = f"{point.summary['source_heat_w']:.0f} W"
    assert source_statement(design, point) == f"Heat from the source: {heat_w}; the source can give 6000 W."
    survey = design.survey
    for output_kw, words in (
        (5.0, f"THE SOURCE WOULD HAVE TO GIVE {heat_w}, MORE THAN ITS 5000 W."),
        (None, f"Heat from the source: {heat_w}."),
    ):
        other = hl.size(replace(survey, source=replace(survey.source, output_kw=output_kw)))
        assert source_statement(other, point) == words


@pytest.mark.parametrize("size", ["one_room", "nine_rooms", pytest.param("twenty_rooms", marks=pytest.mark.long)])
def test_a_page_is_small(size: str, plan_of: Callable[[str], PlanPage]) -> None:
    assert 20_000 < len(plan_of(size).markup.encode("utf-8")) <= MOST_BYTES[size]


def _luminance(colour: str) -> float:
    """Relative luminance of a colour (WCAG 2.2)."""
    digits = colour.lstrip("#")
    whole = digits if len(digits) == 6 else "".join(2 * one for one in digits)
    shares = [int(whole[i : i + 2], 16) / 255.0 for i in (0, 2, 4)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_luminance_alone_separates_everything_in_light_and_in_dark_colours(scheme: str) -> None:
    """Contrast goes by luminance, so that it holds in greyscale too."""
    sheet = resources.files(PACKAGE).joinpath("page.css").read_text(encoding="utf-8")
    light, dark = re.findall(r":root \{([^}]*)\}", sheet)
    colours = dict(re.findall(r"--([a-z]+): (#[0-9a-f]+)", light))
    if scheme == "dark":
        colours |= dict(re.findall(r"--([a-z]+): (#[0-9a-f]+)", dark))
    grounds = ("paper", "warm", "tight", "short")
    for ground in grounds:
        assert _contrast(colours["ink"], colours[ground]) >= 7.0
        for line in ("skirting", "pipe", "focus", "grey"):
            assert _contrast(colours[line], colours[ground]) >= 3.0, (line, ground)
    for ground in ("tight", "short"):
        assert _contrast(colours["mark"], colours[ground]) >= 3.0, "the pattern of the state"
    for text in ("link", "grey", "good", "watch", "bad"):
        assert _contrast(colours[text], colours["paper"]) >= 4.5, text
    assert _contrast(colours["ink"], colours["chosen"]) >= 7.0
    assert _contrast(colours["link"], colours["chosen"]) >= 4.5
