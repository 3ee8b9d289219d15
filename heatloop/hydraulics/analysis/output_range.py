"""Output range: the uncertain inputs of a design, varied one at a time, and the output of rooms with each.

The flows are unchanged. Varied in turn: the film in the rating test, the film itself, the link between channels, and
the rating itself. If several inputs deviate in the same direction, the output lies outside this range.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from heatloop.hydraulics.analysis.fixed_flow_heat import heat_at_fixed_flows
from heatloop.hydraulics.analysis.room_output import room_output_w
from heatloop.hydraulics.heat.profile_rating import RatingInterpretation
from heatloop.hydraulics.loop_paths import ProfileCharacteristics, RatingAssumptions
from heatloop.hydraulics.model import LoopPath, PathElement
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.physics.emitters import TEST_HOUSE_PERCENT
from heatloop.physics.water import Fluid
from heatloop.survey.profiles import Profile
from heatloop.survey.survey import SurveyData

AS_DESIGNED = "as designed"

LINKS_W_MK = (2.0, 10.0)


@dataclass(frozen=True)
class RatingVariant:
    """A variation of the ratings. `counts_in_range`: the input is uncertain in this survey; otherwise for comparison
    only.

    `emitters` is the factor on the rating of other emitters.
    """

    name: str
    counts_in_range: bool
    case: RatingAssumptions
    emitters: float = 1.0


@dataclass(frozen=True)
class VariantOutput:
    """Heat in W into each room with one input varied; `counts_in_range`: whether this input is uncertain in this
    survey."""

    name: str
    counts_in_range: bool
    room_output_w: Mapping[str, float]


def variant_outputs(
    survey: SurveyData, constants: Sequence[ProfileCharacteristics], state: SystemState, fluid: Fluid
) -> tuple[VariantOutput, ...]:
    """Heat into the rooms of a solved system as designed and with each variant, at unchanged flows.

    `constants` of the profiles as designed, then with each of the `variants` of the survey.
    """
    others, (design, *varied) = variants(survey), constants
    cases = [
        [_varied_path(path, variant, design, characteristics) for path in state.network.loops]
        for variant, characteristics in zip(others, varied, strict=True)
    ]
    states = heat_at_fixed_flows(state, cases, fluid)
    return (
        VariantOutput(AS_DESIGNED, True, room_output_w(state)),
        *(
            VariantOutput(variant.name, variant.counts_in_range, room_output_w(varied_state))
            for variant, varied_state in zip(others, states, strict=True)
        ),
    )


def _varied_path(
    path: LoopPath, variant: RatingVariant, design: ProfileCharacteristics, characteristics: ProfileCharacteristics
) -> LoopPath:
    """Path of a loop with the constants, water film and other emitters of a variant."""

    def tail(elements: tuple[PathElement, ...]) -> tuple[PathElement, ...]:
        return tuple(
            element
            if element.emits is None
            else replace(element, emits=replace(element.emits, k_w_kn=element.emits.k_w_kn * variant.emitters))
            for element in elements
        )

    arms, profile = path.arms, path.profile
    if profile is not None:
        own, new = design[profile.name], characteristics[profile.name]
        film = variant.case.film and profile.rating.flow_exponent is None
        replacing = {characteristic: new[in_floor] for in_floor, characteristic in own.items()}
        arms = tuple(
            replace(
                arm,
                cells=tuple(
                    replace(cell, characteristic=replacing[cell.characteristic], film=film) if cell.skirting else cell
                    for cell in arm.cells
                ),
            )
            for arm in path.arms
        )
    return replace(path, arms=arms, tail_flow=tail(path.tail_flow), tail_return=tail(path.tail_return))


def variants(survey: SurveyData) -> tuple[RatingVariant, ...]:
    """List the inputs that are varied in turn for the profiles of this survey."""
    return tuple(_variants(survey.profiles, survey.project.water_film))


def _variants(profiles: Sequence[Profile], film: bool) -> Iterator[RatingVariant]:
    with_film = [p for p in profiles if p.rating.flow_exponent is None]
    if film and with_film:
        own = {p.name: RatingInterpretation(min_re=0.0) for p in with_film}
        yield RatingVariant(
            "water-side heat transfer in the rating test: calculated by formula (design: turbulent flow assumed)",
            True,
            RatingAssumptions(True, own),
        )
        yield RatingVariant("metal as warm as the water", True, RatingAssumptions(False))
    linked = [p for p in profiles if len(p.channels) > 1]
    for known in (False, True):
        some = [p.name for p in linked if (p.link is not None) == known]
        for link in LINKS_W_MK if some else ():
            words = f"channel coupling {link:g} W/(m K)" + (" instead of the stated value" if known else "")
            yield RatingVariant(
                words, not known, RatingAssumptions(film, {name: RatingInterpretation(link_w_mk=link) for name in some})
            )
    for words, sign in (("low", -1.0), ("high", 1.0)):
        own = {
            p.name: RatingInterpretation(output_factor=1.0 + sign * rating_band_percent(p) / 100.0) for p in profiles
        }
        others = 1.0 + sign * TEST_HOUSE_PERCENT / 100.0
        yield RatingVariant(f"rating at the {words} end of its tolerance", True, RatingAssumptions(film, own), others)


def rating_band_percent(profile: Profile) -> float:
    """Tolerance of a rating in %: as stated, else the usual spread between test laboratories."""
    return TEST_HOUSE_PERCENT if profile.rating.tolerance_percent is None else profile.rating.tolerance_percent
