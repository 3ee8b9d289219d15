"""What is fitted in a changed survey, from its layout alone: to compare costs without sizing."""

from __future__ import annotations

from collections.abc import Sequence

from heatloop.findings.input_errors import InputError
from heatloop.handover.parts.fitted import FittedItem, fitted_items
from heatloop.hydraulics.analysis.water_content import system_water_l
from heatloop.hydraulics.from_survey import network_from
from heatloop.hydraulics.heat.profile_rating import channel_duct
from heatloop.hydraulics.loop_paths import tail_length_m
from heatloop.hydraulics.sizing.size_system import prepare_system
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.layout.build import build_layout
from heatloop.layout.model import Layout, Piece, PlacedCrossing
from heatloop.physics.ducts import round_duct
from heatloop.survey.loops import Loop
from heatloop.survey.survey import SurveyData
from heatloop.workflows.improve.remedy import Remedy, with_remedies


def items_with(present: SizedSystem, remedies: Sequence[Remedy]) -> tuple[FittedItem, ...] | None:
    """What is fitted with these remedies; None where they cannot be laid out."""
    try:
        survey = with_remedies(present.survey, remedies)
        layout = build_layout(survey)
        water_l = _water_l(present, survey, layout)
    except (InputError, KeyError):
        return None
    return fitted_items(survey, layout, water_l)


def _water_l(present: SizedSystem, survey: SurveyData, layout: Layout) -> float:
    """Water of the whole system in litres: the present one and the difference of the loops."""
    if survey.trunks != present.survey.trunks:
        prepared = prepare_system(survey, present.prepared)
        return system_water_l(survey, network_from(survey, prepared.paths))
    before_l = sum(loop_water_l(present.survey, loop, present.layout) for loop in present.survey.loops)
    after_l = sum(loop_water_l(survey, loop, layout) for loop in survey.loops)
    return system_water_l(present.survey, present.state.network) + after_l - before_l


def loop_water_l(survey: SurveyData, loop: Loop, layout: Layout) -> float:
    """Water content of a loop with its tails in litres."""
    pipe, emitters = survey.catalogue.pipe, survey.catalogue.emitter
    tails_m = tail_length_m(loop.tails.flow_m) + tail_length_m(loop.tails.return_m)
    water_l = round_duct(pipe(loop.tails.pipe).bore_m).content_l_m * tails_m
    water_l += sum(emitters(item.emitter).water_l for item in loop.emitters)
    if not loop.arms:
        return water_l
    channels = survey.catalogue.profile(loop.profile).channels
    profile_l_m = sum(channel_duct(channel).content_l_m for channel in channels)
    for arm in layout.loop(loop.name).arms:
        for element in arm.elements:
            if isinstance(element, Piece):
                water_l += profile_l_m * element.tape_m
            elif isinstance(element, PlacedCrossing):
                crossing_l_m = round_duct(pipe(element.pipe).bore_m).content_l_m
                water_l += len(channels) * crossing_l_m * element.length_m
    return water_l
