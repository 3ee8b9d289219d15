"""Profiles of a catalogue: channels, ratings and test points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from heatloop.text.column import text_column
from heatloop.text.formatting import listing, plural
from heatloop.text.summary import HasSummary, Summary, grid

SOURCED = "Source: {}."


def profile_summary(profile: Profile) -> Summary:
    """Summary of a profile: its section, its rating and its channels."""
    rating = profile.rating
    drop = "" if rating.drop_k is None else f", {rating.drop_k:g} K drop"
    sentences = [
        f"{profile.height_mm:g} mm high, {profile.depth_mm:g} mm deep, {plural(len(profile.channels), 'channel')}; "
        f"stock of {listing(f'{length:g} m' for length in profile.stock_m)}.",
        f"{rating.output_w_m:g} W/m at 50 K, exponent {rating.exponent:g}, by {rating.standard}: sample of "
        f"{rating.sample_m:g} m, arrangement {rating.arrangement}{drop}.",
    ]
    if profile.floor_section is not None:
        sentences.append(
            f"Laid in the floor {profile.floor_section.output_w_m:g} W/m at 50 K, "
            f"exponent {profile.floor_section.exponent:g}."
        )
    if profile.max_pressure_kpa is not None:
        sentences.append(f"Maximum working pressure {profile.max_pressure_kpa:g} kPa.")
    sentences += sourced(profile.source, profile.invented)
    columns = text_column("role", "Channel"), text_column("bore", "Bore")
    channels = grid("Channels", map(_channel, profile.channels), columns)
    return Summary(f"Profile {profile.name}", tuple(sentences), (channels,))


def _channel(channel: Channel) -> dict[str, object]:
    oval = f"{channel.width_mm or 0:g} x {channel.height_mm or 0:g} mm, oval"
    bore = oval if channel.bore_mm is None else f"{channel.bore_mm:g} mm"
    return {"role": channel.role or "waterway", "bore": bore}


def sourced(source: str, invented: bool) -> list[str]:
    """Origin of an entry, in words."""
    origin = ["An invented entry: it cannot be bought."] if invented else []
    return [*origin, SOURCED.format(source.rstrip("."))] if source else origin


RatingArrangement = Literal["one-way", "there-and-back", "unknown"]


@dataclass(frozen=True)
class Channel:
    """One waterway: round by `bore_mm`, or oval by `width_mm` and `height_mm`."""

    bore_mm: float | None = None
    width_mm: float | None = None
    height_mm: float | None = None
    role: str = ""


@dataclass(frozen=True)
class TestPoint:
    """One point of a test: output per metre at an excess temperature."""

    __test__ = False

    excess_k: float
    output_w_m: float


@dataclass(frozen=True)
class OutputFactor:
    """A named factor on the output: a finish or a cover, as measured by the supplier."""

    name: str
    factor: float


@dataclass(frozen=True)
class OutputRating:
    """Output per metre of heated length, and its test.

    From `test_points`, output and exponent are their least-squares fit, and `fit_spread` is the largest relative
    deviation of a point from it.
    """

    output_w_m: float
    exponent: float
    standard: str = "EN 442-2"
    sample_m: float = 3.0
    arrangement: RatingArrangement = "unknown"
    drop_k: float | None = 10.0
    flow_kg_s: float | None = None
    heating_effect_included: bool = False
    tolerance_percent: float | None = None
    test_points: tuple[TestPoint, ...] = ()
    fit_spread: float | None = None
    flow_exponent: float | None = None


@dataclass(frozen=True)
class SecondTest:
    """Another rating test of the same sample at another flow, from which the link is identified."""

    output_w_m: float
    drop_k: float


@dataclass(frozen=True)
class ChannelCoupling:
    """Conduction between neighbouring channels through the metal web.

    It is stated, calculated from the size of the web, or identified from a second test at another flow.
    """

    w_mk: float | None = None
    web_thickness_mm: float | None = None
    web_length_mm: float | None = None
    webs: int = 1
    conductivity_w_mk: float | None = None
    measured: str | None = None
    second_test: SecondTest | None = None


@dataclass(frozen=True)
class FloorSectionRating:
    """Output of the profile laid flat in the floor along glazing."""

    output_w_m: float
    exponent: float
    max_surface_c: float | None = None
    downward_loss_w_mk: float = 0.0
    surface_share: float = 1.0


@dataclass(frozen=True)
class Profile(HasSummary):
    """A heated skirting section."""

    name: str
    height_mm: float
    depth_mm: float
    channels: tuple[Channel, ...]
    rating: OutputRating
    stock_m: tuple[float, ...]
    wetted_metal: Literal["aluminium", "copper"] = "aluminium"
    roughness_mm: float = 0.0015
    link: ChannelCoupling | None = None
    floor_section: FloorSectionRating | None = None
    metal_kg_m: float | None = None
    expansion_1_k: float = 23.1e-6
    painted: bool = True
    finishes: tuple[OutputFactor, ...] = ()
    covers: tuple[OutputFactor, ...] = ()
    clearance_mm: float = 20.0
    min_piece_m: float = 0.25
    source: str = ""
    invented: bool = False
    max_pressure_kpa: float | None = None

    def summary_block(self) -> Summary:
        """Summary of section, rating and channels, as printed and as shown in a notebook."""
        return profile_summary(self)
