"""Constants of the channel equations that reproduce the rating of a catalogue.

The constant K is chosen so that the channel model gives the output of the test, with the arrangement, sample length and
temperature drop of the test. A two-pass sample at 75/65/20 with a link of 5 W/(m K) requires K 3.4 % above output/50^n
(row E15 of data/published/emission.csv); a single-pass sample at the same temperatures 0.5 % (row E16).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmGroup, group_similar_arms
from heatloop.hydraulics.heat.channel_heat import GroupSolution, solve_group
from heatloop.hydraulics.model import ArmPath, Cell, Characteristic, PathElement
from heatloop.physics.ducts import Duct, oval_duct, round_duct
from heatloop.physics.emitters import HEATING_EFFECT_FACTOR, RATED_EXCESS_K, one_way_constant, web_link_w_mk
from heatloop.physics.heat_transfer import TURBULENT_RE
from heatloop.physics.water import Fluid
from heatloop.survey.profiles import Channel, ChannelCoupling, OutputRating, Profile

UNKNOWN_LINK_W_MK = 5.0
"""Assumed where a catalogue does not state the web: an aluminium web 1.8 mm thick and 70 mm long."""

MAX_LINK_W_MK = 60.0

MAX_SECANTS = 40

Array = NDArray[np.float64]

TEST_ROOM_C = 20.0
"""Room temperature of the EN 442-2 rating (flow 75, return 65, room 20 °C)."""


def link_w_mk(link: ChannelCoupling | None) -> float:
    """Link between neighbouring channels in W/(m K): as stated, from the web, or the default."""
    if link is None:
        return UNKNOWN_LINK_W_MK
    if link.w_mk is not None:
        return link.w_mk
    if link.second_test is not None:
        raise ValueError("the link of a profile with a second test comes from link_from_two_tests")
    if link.web_thickness_mm is None or link.web_length_mm is None or link.conductivity_w_mk is None:
        return UNKNOWN_LINK_W_MK
    return web_link_w_mk(link.web_thickness_mm, link.web_length_mm, link.conductivity_w_mk, link.webs)


@dataclass(frozen=True)
class RatingInterpretation:
    """Assumptions with which a rating is read.

    `min_re`: minimum Reynolds number for the film of the test (0: that of the test). `link_w_mk`: link in place of the
    one in the catalogue. `output_factor`: factor on the output.
    """

    min_re: float = TURBULENT_RE
    link_w_mk: float | None = None
    output_factor: float = 1.0


AS_RATED = RatingInterpretation()


@dataclass(frozen=True)
class RatingTest:
    """A rating test: output per metre, the sample, and how water flowed through it.

    `drop_k`: difference between flow and return temperature. `excess_k`: their mean above the room at 20 °C.
    `directions` and `ducts`: those of the channels. `film`: whether the water film is part of the model; it is
    calculated at no less than the Reynolds number `min_re`.
    """

    __test__ = False

    output_w_m: float
    drop_k: float
    sample_m: float
    directions: tuple[int, ...]
    ducts: tuple[Duct, ...]
    excess_k: float = RATED_EXCESS_K
    film: bool = True
    min_re: float = TURBULENT_RE


def channel_duct(channel: Channel) -> Duct:
    """The waterway of a profile's channel: round by its bore or oval by its axes."""
    if channel.bore_mm is not None:
        return round_duct(channel.bore_mm / 1000.0)
    if channel.width_mm is None or channel.height_mm is None:
        raise ValueError("a channel without bore_mm, must have width_mm and height_mm")
    return oval_duct(channel.width_mm / 1000.0, channel.height_mm / 1000.0)


def there_and_back(channels: int) -> tuple[int, ...]:
    """Directions of outward and return channels: of three, two are outward."""
    if channels < 2:
        raise ValueError("a profile with one channel cannot run there-and-back")
    out = (channels + 1) // 2
    return (1,) * out + (-1,) * (channels - out)


@dataclass(frozen=True)
class RatingSample:
    """A rating test, and the exponent and link that are used with its constant."""

    test: RatingTest
    exponent: float
    link_w_mk: float

    @property
    def flow_c(self) -> float:
        return TEST_ROOM_C + self.test.excess_k + self.test.drop_k / 2.0

    @property
    def plain_w_mkn(self) -> float:
        """Constant without link and film."""
        test = self.test
        ends = self.flow_c, self.flow_c - test.drop_k
        return one_way_constant(test.output_w_m, 1.0, self.exponent, *ends, TEST_ROOM_C)


@dataclass(frozen=True)
class IdentificationInput:
    """Input for the constant of one characteristic: of a profile on the wall or (`in_floor`) flat as a floor section.

    The model contains the water film or not. The rating is read with the given assumptions.
    """

    profile: Profile
    film: bool = True
    reading: RatingInterpretation = AS_RATED
    in_floor: bool = False

    def sample(self, fluid: Fluid) -> RatingSample:
        """The rating test of this input. Raises ValueError for a floor section without a rating."""
        rating, section = self.profile.rating, self.profile.floor_section
        test = rating_test(self.profile, fluid, self.film and rating.flow_exponent is None, self.reading)
        link = profile_link_w_mk(self.profile, test, fluid, self.reading)
        if not self.in_floor:
            return RatingSample(test, rating.exponent, link)
        if section is None:
            raise ValueError(f"profile {self.profile.name!r} has no rating as floor section")
        return RatingSample(
            replace(test, output_w_m=section.output_w_m * self.reading.output_factor), section.exponent, link
        )


def characteristics(required: Sequence[IdentificationInput], fluid: Fluid) -> tuple[Characteristic, ...]:
    """Characteristics of profiles, each identified from its rating test with `fluid` (usually water, as in ratings).

    An unknown arrangement is assumed to be single-pass, which is the cautious assumption. A rating that includes a
    heating effect is divided by 1.15. A floor section is rated in the same test. Raises ValueError where a test has no
    constant.
    """
    samples = [test.sample(fluid) for test in required]
    identified = []
    for test, sample, k in zip(required, samples, rated_constants(samples, fluid), strict=True):
        flow_exponent = None if test.in_floor else test.profile.rating.flow_exponent
        characteristic = Characteristic(float(k), sample.exponent, sample.link_w_mk)
        if flow_exponent is not None:
            characteristic = replace(
                characteristic, flow_exponent=flow_exponent, test_flow_kg_s=flow_of_test_kg_s(sample.test, fluid)
            )
        identified.append(characteristic)
    return tuple(identified)


def profile_link_w_mk(
    profile: Profile, test: RatingTest, fluid: Fluid, reading: RatingInterpretation = AS_RATED
) -> float:
    """Link of a profile in W/(m K): as assumed, else stated, else from its web, from a second test, or the default."""
    if reading.link_w_mk is not None:
        return reading.link_w_mk
    if profile.link is None or profile.link.second_test is None:
        return link_w_mk(profile.link)
    other = profile.link.second_test
    second = replace(test, output_w_m=other.output_w_m * reading.output_factor, drop_k=other.drop_k)
    return link_from_two_tests(test, second, profile.rating.exponent, fluid)


def link_from_two_tests(first: RatingTest, second: RatingTest, exponent: float, fluid: Fluid) -> float:
    """Link in W/(m K) with which two tests of one sample at different flows give the same constant.

    The output of a two-pass sample falls with its flow; the stronger the link, the more it falls. The search covers 0
    to MAX_LINK_W_MK. Raises ValueError where no link in this range fits both tests, or where their temperature drops
    differ by less than a tenth.
    """
    if abs(first.drop_k - second.drop_k) < 0.1 * first.drop_k:
        raise ValueError(
            f"the two tests have drops of {first.drop_k:g} and {second.drop_k:g} K: must differ by at least a tenth"
        )

    def apart(link: float) -> float:
        constants = [rated_constant(test, exponent, link, fluid) for test in (first, second)]
        return constants[0] / constants[1] - 1.0

    from scipy.optimize import brentq  # here, because it is slow to import and seldom needed

    # the ratio can reach one again at a much stronger link: the weakest link that fits is used
    tried = [0.0, 1.0, 2.0, 4.0, 7.0, 11.0, 16.0, 24.0, 36.0, MAX_LINK_W_MK]
    ratios = [apart(link) for link in tried]
    for (low, high), (at_low, at_high) in zip(pairwise(tried), pairwise(ratios), strict=True):
        if at_low * at_high <= 0.0:
            return float(brentq(apart, low, high, xtol=1e-6))
    raise ValueError(
        f"no link from 0 to {MAX_LINK_W_MK:g} W/(m K) lets one constant give both {first.output_w_m:g} W/m "
        f"at a drop of {first.drop_k:g} K and {second.output_w_m:g} W/m at {second.drop_k:g} K"
    )


def flow_of_test_kg_s(test: RatingTest, fluid: Fluid) -> float:
    """Flow through the sample in kg/s that carries the output of the test at its temperature drop, by enthalpy."""
    flow_c = TEST_ROOM_C + test.excess_k + test.drop_k / 2.0
    ends = fluid.enthalpy_j_kg(np.array([flow_c, flow_c - test.drop_k]))
    return test.output_w_m * test.sample_m / float(ends[0] - ends[1])


def reynolds_of_test(test: RatingTest, fluid: Fluid) -> float:
    """Minimum Reynolds number of the channels of a test at its mean temperature.

    Parallel channels share the flow equally.
    """
    sign = np.asarray(test.directions)
    share = 1.0 / np.where(sign > 0, (sign > 0).sum(), max(int((sign < 0).sum()), 1))
    viscosity = float(fluid.viscosity_pa_s(TEST_ROOM_C + test.excess_k))
    flow = flow_of_test_kg_s(test, fluid)
    return min(
        float(part) * flow * duct.hydraulic_diameter_m / (duct.area_m2 * viscosity)
        for part, duct in zip(share, test.ducts, strict=True)
    )


def rating_test(
    profile: Profile, fluid: Fluid, film: bool = True, reading: RatingInterpretation = AS_RATED
) -> RatingTest:
    """The rating of a catalogue entry as a test of the channel model."""
    rating = profile.rating
    output_w_m = rating.output_w_m / (HEATING_EFFECT_FACTOR if rating.heating_effect_included else 1.0)
    output_w_m *= reading.output_factor
    count = len(profile.channels)
    turned = rating.arrangement == "there-and-back" and count > 1
    return RatingTest(
        output_w_m=output_w_m,
        drop_k=drop_of_test_k(rating, fluid),
        sample_m=rating.sample_m,
        directions=there_and_back(count) if turned else (1,) * count,
        ducts=tuple(channel_duct(channel) for channel in profile.channels),
        film=film,
        min_re=reading.min_re,
    )


def drop_of_test_k(rating: OutputRating, fluid: Fluid) -> float:
    """Temperature drop in the rating test in K: as stated or from the flow of the test."""
    if rating.flow_kg_s is not None:
        cp = float(fluid.heat_capacity_j_kgk(TEST_ROOM_C + RATED_EXCESS_K))
        return rating.output_w_m * rating.sample_m / (rating.flow_kg_s * cp)
    return rating.drop_k if rating.drop_k is not None else 10.0


def rated_constant(test: RatingTest, exponent: float, link: float, fluid: Fluid) -> float:
    """Constant K in W/(m K^n) with which the channel model gives the output of the test.

    The arrangement is that of the test. The flow carries the output of the test at its temperature drop, by enthalpy.
    Without film the length of the sample has no effect, because output and flow increase together.

    With film, the film is calculated as practically turbulent, whatever the flow of the test (unless `min_re` states
    otherwise). Reason: with a weak film in the test, the model would predict too much heat at higher flows; and in slow
    flow buoyancy makes the film better than the laminar value. Raises ValueError where no constant can give the
    temperature drop (see `min_return_ratio`).
    """
    return float(rated_constants([RatingSample(test, exponent, link)], fluid)[0])


def rated_constants(samples: Sequence[RatingSample], fluid: Fluid) -> Array:
    """The constants of many tests, each as from :func:`rated_constant`, calculated together."""
    constants = np.zeros(len(samples))
    for directions in dict.fromkeys(sample.test.directions for sample in samples):
        which = [i for i, sample in enumerate(samples) if sample.test.directions == directions]
        constants[which] = _constants([samples[i] for i in which], fluid)
    return constants


def _constants(samples: Sequence[RatingSample], fluid: Fluid) -> Array:
    """Secant method on the constants of tests whose channels have the same directions, all at once."""
    tests = [sample.test for sample in samples]
    sign = np.asarray(tests[0].directions)
    share = 1.0 / np.where(sign > 0, (sign > 0).sum(), max(int((sign < 0).sum()), 1))
    flow = np.outer(share, [flow_of_test_kg_s(test, fluid) for test in tests])
    inlet_c = np.array([sample.flow_c for sample in samples])
    required_c = inlet_c - [test.drop_k for test in tests]
    initial_guess: GroupSolution | None = None

    def miss_k(constants: Array) -> Array:
        nonlocal initial_guess
        initial_guess = solve_group(_group(samples, constants), flow, inlet_c, fluid, initial_guess)
        return np.asarray(initial_guess.joined_c - required_c)

    plain = np.array([sample.plain_w_mkn for sample in samples])
    before, constants_w_mkn = plain, 1.1 * plain
    miss_before, miss = miss_k(before), miss_k(constants_w_mkn)
    for _ in range(MAX_SECANTS):
        slope = (miss - miss_before) / np.where(constants_w_mkn == before, 1.0, constants_w_mkn - before)
        step = np.where((constants_w_mkn == before) | (slope == 0.0), 0.0, -miss / np.where(slope == 0.0, 1.0, slope))
        if np.all(np.abs(step) <= 1e-12 * plain):
            break
        before, miss_before = constants_w_mkn, miss
        constants_w_mkn = np.clip(constants_w_mkn + step, 0.1 * constants_w_mkn, 10.0 * constants_w_mkn)
        miss = miss_k(constants_w_mkn)
    for sample, constant, left_k, start in zip(samples, constants_w_mkn, miss, plain, strict=True):
        if not (abs(left_k) < 1e-8 and 0.0 < constant < 100.0 * start):
            raise ValueError(
                f"no output gives a drop of {sample.test.drop_k:g} K in the rating test with a link of "
                f"{sample.link_w_mk:g} W/(m K)"
            )
    return constants_w_mkn


def _group(samples: Sequence[RatingSample], constants: Array) -> ArmGroup:
    """The samples as parallel runs with these constants."""
    arms = []
    for sample, constant in zip(samples, constants, strict=True):
        characteristic = Characteristic(float(constant), sample.exponent, sample.link_w_mk)
        cell = Cell("", TEST_ROOM_C, sample.test.sample_m, characteristic, 1.0, "", film=sample.test.film)
        channels: tuple[tuple[PathElement, ...], ...] = ((),) * len(sample.test.directions)
        arms.append(ArmPath(sample.test.directions, sample.test.ducts, (cell,), channels))
    min_film_re = np.array([sample.test.min_re for sample in samples])
    return replace(group_similar_arms(arms)[0], min_film_re=min_film_re)
