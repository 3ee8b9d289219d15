"""A house as built with deviations from its design, solved by itself: networks of changed paths, single solves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

import heatloop as hl
from heatloop.hydraulics.analysis.room_output import back_loss_w, room_output_w
from heatloop.hydraulics.from_survey import network_from, supply_temp_c
from heatloop.hydraulics.loop_paths import LoopPath, loop_paths
from heatloop.hydraulics.sizing.valve_settings import valve_locations
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.physics.valves import kv_at_setting
from heatloop.survey.profiles import Profile
from heatloop.workflows.operating_point import losses_at

TRUTHS, COVERED = 200, (0.84, 0.95)
"""Houses as built, and the share of margins that a range of 90 % must cover."""

BANDS = {
    "fabric": hl.Band(-15.0, 15.0, "normal"),
    "air": hl.Band(-30.0, 40.0, "triangular"),
    "rating": 6.0,
    "length": 3.0,
    "setting": 0.4,
    "flow_temp_c": 2.0,
    "outdoor_c": 2.0,
}
"""Bands of the houses as built."""


def drawn(truth: int) -> dict[str, float]:
    """The deviations of a house, by distributions as the documentation states them, without the package."""
    draw = np.random.default_rng(90_000 + truth)
    return {
        "fabric": float(draw.normal(0.0, 15.0 / 1.96)),
        "air": float(draw.triangular(-30.0, 5.0, 40.0)),
        **{name: float(draw.uniform(-width, width)) for name, width in BANDS.items() if isinstance(width, float)},
    }


def margins_w(design: hl.Design, deviations: Mapping[str, float]) -> dict[str, float]:
    """Margin of each heated room, W, of the house with these deviations: one network, one solve, losses by part."""
    survey, system = design.survey, design.system
    outdoor_c = survey.project.outdoor_c + deviations["outdoor_c"]
    flow_temp_c = survey.project.flow_temp_c + deviations["flow_temp_c"]
    profiles = tuple(_rated(profile, 1.0 + deviations["rating"] / 100.0) for profile in survey.catalogue.profiles)
    built = replace(survey, catalogue=replace(survey.catalogue, profiles=profiles))
    paths = [_longer(path, 1.0 + deviations["length"] / 100.0) for path in loop_paths(built, system.layout)]
    network = network_from(built, paths)
    kv_m3_h = {}
    for place, name in valve_locations(network).items():
        table = survey.catalogue.valve(name).kv_m3_h
        setting = min(max(system.settings[place].setting + deviations["setting"], 1.0), float(len(table)))
        kv_m3_h[place] = kv_at_setting(setting, table)
    state = solve_state(
        network.with_kv(kv_m3_h),
        OperatingConditions(
            np.array([supply_temp_c(survey, loop, flow_temp_c) for loop in survey.loops]),
            system.pumps,
            source_c=flow_temp_c,
        ),
        system.fluid,
        system.state.loop_flow_kg_s,
    )
    fabric, air = (1.0 + deviations[name] / 100.0 for name in ("fabric", "air"))
    output, behind = room_output_w(state), back_loss_w(state)
    weather = replace(survey, project=replace(survey.project, outdoor_c=outdoor_c))
    margins = {}
    for loss in losses_at(system, weather):
        if loss.room in survey.heated_rooms:
            by_part = {part.kind: 0.0 for part in loss.parts}
            for part in loss.parts:
                by_part[part.kind] += part.heat_w
            own_air, own_rest = by_part.pop("air", 0.0), by_part.pop("reheat", 0.0)
            own_fabric = sum(by_part.values()) if loss.parts else loss.total_w
            loss_w = fabric * own_fabric + air * own_air + own_rest
            margins[loss.room] = output[loss.room] - fabric * behind[loss.room] - loss_w
    return margins


def _rated(profile: Profile, factor: float) -> Profile:
    """A profile with other outputs in its tests, on the wall and in the floor."""
    section = profile.floor_section
    return replace(
        profile,
        rating=replace(profile.rating, output_w_m=profile.rating.output_w_m * factor),
        floor_section=None if section is None else replace(section, output_w_m=section.output_w_m * factor),
    )


def _longer(path: LoopPath, factor: float) -> LoopPath:
    """A path whose skirting is longer by a factor."""
    arms = tuple(
        replace(
            arm,
            cells=tuple(
                replace(cell, length_m=cell.length_m * factor) if cell.skirting else cell for cell in arm.cells
            ),
            channels=tuple(
                tuple(
                    replace(item, length_m=item.length_m * factor) if item.kind in ("piece", "floor section") else item
                    for item in channel
                )
                for channel in arm.channels
            ),
        )
        for arm in path.arms
    )
    return replace(path, arms=arms)


def covered(design: hl.Design, found: hl.Uncertainty, truths: range) -> dict[str, int]:
    """For each room, how many of the houses have a margin inside the range of 90 % of the samples."""
    ranges = found.room_chances.set_index("room")
    counts = dict.fromkeys(ranges.index, 0)
    for truth in truths:
        for room, margin_w in margins_w(design, drawn(truth)).items():
            low, high = ranges.loc[room, ["low_margin_w", "high_margin_w"]]
            counts[room] += int(low <= margin_w <= high)
    return counts
