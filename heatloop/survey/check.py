"""Every fault of meaning in a survey whose types are already checked."""

from __future__ import annotations

from heatloop.survey.catalogue import Catalogue
from heatloop.survey.check_catalogue import check_unique
from heatloop.survey.check_loops import check_loops
from heatloop.survey.check_rooms import check_rooms
from heatloop.survey.file_model import SurveyTable
from heatloop.survey.model import BuildUp, Layer, Space, Survey
from heatloop.survey.place import Loc
from heatloop.survey.validate import Findings


def check_survey(survey: Survey, table: SurveyTable, catalogue: Catalogue | None, findings: Findings) -> None:
    """Note them all; `survey` may hold NaN and empty texts where the file could not be read.

    `table` is the same survey as the file has it; `catalogue` is None where it could not be read.
    """
    check_unique("build_up", [item.name for item in survey.build_ups], findings)
    check_unique("space", [item.name for item in survey.spaces], findings)
    check_unique("room", [item.name for item in survey.rooms], findings)
    check_unique("trunk", [item.name for item in survey.trunks], findings)
    check_unique("loop", [item.name for item in survey.loops], findings)
    for index, build_up in enumerate(survey.build_ups):
        _build_up(("build_up", index), build_up, findings)
    for index, space in enumerate(survey.spaces):
        _space(("space", index), space, findings)
    check_rooms(survey, findings)
    check_loops(survey, table, catalogue, findings)


def _build_up(loc: Loc, build_up: BuildUp, findings: Findings) -> None:
    if findings.is_unread(loc) or findings.is_unread((*loc, "layers")):
        return
    if build_up.layers and build_up.u_w_m2k is not None:
        findings.add(loc, "layers and u_w_m2k", "one of the two")
    if not build_up.layers and build_up.u_w_m2k is None:
        findings.add(loc, "neither layers nor u_w_m2k", "one of the two")
    for index, layer in enumerate(build_up.layers):
        _layer((*loc, "layers", index), layer, findings)


def _layer(loc: Loc, layer: Layer, findings: Findings) -> None:
    if findings.is_unread(loc):
        return
    if layer.conductivity_w_mk is None and layer.resistance_m2k_w is None:
        findings.add((*loc, "conductivity_w_mk"), "nothing", "a conductivity, or resistance_m2k_w of an air layer")
    if layer.conductivity_w_mk is not None and layer.resistance_m2k_w is not None:
        findings.add(loc, "conductivity_w_mk and resistance_m2k_w", "one of the two")
    if layer.bridge_fraction > 0.0 and layer.bridge_conductivity_w_mk is None:
        wanted = "the conductivity of what bridges the layer, beside bridge_fraction"
        findings.add((*loc, "bridge_conductivity_w_mk"), "nothing", wanted)


def _space(loc: Loc, space: Space, findings: Findings) -> None:
    if findings.is_unread(loc):
        return
    if space.temp_c is not None and space.temperature_factor is not None:
        findings.add(loc, "temp_c and temperature_factor", "one of the two")
    if space.temp_c is None and space.temperature_factor is None:
        findings.add(loc, "neither temp_c nor temperature_factor", "one of the two")
