"""All rules of a survey whose types are already checked."""

from __future__ import annotations

from collections.abc import Mapping

from heatloop.physics.fabric.layers import SLIGHTLY_VENTILATED_MM2
from heatloop.survey.building import BuildUp, Layer, UnheatedSpace
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.survey_tables import SurveyTable
from heatloop.survey.files.validation import IssueCollector
from heatloop.survey.rules.catalogue import check_unique
from heatloop.survey.rules.document import check_document
from heatloop.survey.rules.loops import check_loops
from heatloop.survey.rules.rooms import check_rooms
from heatloop.survey.rules.water_system import check_system
from heatloop.survey.survey import SurveyData


def check_survey(survey: SurveyData, table: SurveyTable, catalogue: Catalogue | None, findings: IssueCollector) -> None:
    """Report all errors; `survey` may contain NaN and empty texts where the file could not be read.

    `table` is the same survey as in the file; `catalogue` is None where it could not be read.
    """
    check_unique("build_up", [item.name for item in survey.build_ups], findings)
    check_unique("space", [item.name for item in survey.spaces], findings)
    check_unique("room", [item.name for item in survey.rooms], findings)
    check_unique("trunk", [item.name for item in survey.trunks], findings)
    check_unique("loop", [item.name for item in survey.loops], findings)
    check_unique("bypass", [item.name for item in survey.bypasses], findings)
    for index, build_up in enumerate(survey.build_ups):
        _build_up(("build_up", index), build_up, findings)
    for index, space in enumerate(survey.spaces):
        _space(("space", index), space, findings)
    check_rooms(survey, findings)
    check_loops(survey, table, catalogue, findings)
    check_system(survey.system, findings)
    check_document(survey.document, findings)


def _build_up(loc: Loc, build_up: BuildUp, findings: IssueCollector) -> None:
    if any(findings.is_unread((*loc, key)) for key in ("layers", "window")):
        return
    ways = {"layers": build_up.layers or None, "u_w_m2k": build_up.u_w_m2k, "window": build_up.window}
    _one_of(loc, ways, findings)
    for index, layer in enumerate(build_up.layers):
        _layer((*loc, "layers", index), layer, findings)


def _layer(loc: Loc, layer: Layer, findings: IssueCollector) -> None:
    ways = {
        "conductivity_w_mk": layer.conductivity_w_mk,
        "resistance_m2k_w": layer.resistance_m2k_w,
        "cavity": layer.cavity,
    }
    _one_of(loc, ways, findings)
    _vents(loc, layer, findings)
    if layer.bridge_fraction > 0.0 and layer.bridge_conductivity_w_mk is None:
        required = "the conductivity of the material that bridges the layer, beside bridge_fraction"
        findings.add((*loc, "bridge_conductivity_w_mk"), "nothing", required)


def _vents(loc: Loc, layer: Layer, findings: IssueCollector) -> None:
    """Report ventilation openings that do not agree with the stated ventilation of the cavity."""
    area = layer.vent_mm2_m
    if area is None or findings.is_unread((*loc, "vent_mm2_m")) or findings.is_unread((*loc, "cavity")):
        return
    minimum, maximum = SLIGHTLY_VENTILATED_MM2
    if layer.cavity is None:
        findings.add((*loc, "vent_mm2_m"), "openings of a layer without a cavity", 'cavity = "slightly ventilated"')
    elif layer.cavity != "slightly ventilated":
        required = f"no vent_mm2_m, which is for a slightly ventilated cavity, {minimum:g} to {maximum:g} mm2 a metre"
        findings.add((*loc, "vent_mm2_m"), f'{area:g} beside cavity = "{layer.cavity}"', required)
    elif not minimum <= area <= maximum:
        word = "unventilated" if area < minimum else "well ventilated"
        findings.add((*loc, "vent_mm2_m"), f"{area:g}", f'{minimum:g} to {maximum:g}, or cavity = "{word}"')


def _one_of(loc: Loc, ways: Mapping[str, object], findings: IssueCollector) -> None:
    """Report where none, or more than one, of alternative keys is given."""
    if findings.is_unread(loc):
        return
    stated = [key for key, value in ways.items() if value is not None]
    listed = " or ".join((", ".join(list(ways)[:-1]), list(ways)[-1]))
    if len(stated) > 1:
        findings.add(loc, " and ".join(stated), "one of them")
    elif not stated:
        findings.add(loc, "none of its values", listed)


def _space(loc: Loc, space: UnheatedSpace, findings: IssueCollector) -> None:
    ways = {"temp_c": space.temp_c, "temperature_factor": space.temperature_factor}
    _one_of(loc, ways, findings)
