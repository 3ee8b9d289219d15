"""Margins of the rooms of a sized system for many deviations of its inputs at once.

The water is solved by scenarios, with its valves as they are set and thermostatic valves open. Heat losses are sums of
fabric, air and the rest, each linear in the outdoor temperature.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.heat.profile_rating import RatingInterpretation
from heatloop.hydraulics.loop_paths import RatingAssumptions, profile_characteristics
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.sizing.valve_settings import valve_locations
from heatloop.hydraulics.solver.scenarios import Scenarios, solve_scenarios
from heatloop.physics.valves import kv_at_setting
from heatloop.workflows.operating_point import losses_at
from heatloop.workflows.uncertainty.bands import KINDS, UncertainInput

Array = NDArray[np.float64]

COLDER_K = 5.0
"""Distance of the second outdoor temperature, from which losses are linear."""

LEAST_PERCENT = -90.0
"""No deviation in per cent is taken further, although a normal band has no end."""

RATING_POINTS = 9
"""Ratings in a band for which constants are identified; between them the constant is linear."""


@dataclass(frozen=True, eq=False)
class RoomHeat:
    """Heat of the rooms in S scenarios, (rooms, S) in W: to each room, and the back loss of its skirting."""

    to_room_w: Array
    back_loss_w: Array


@dataclass(frozen=True, eq=False)
class _Losses:
    """Heat losses (R) in W at the design outdoor temperature and their slopes in W/K."""

    fabric_w: Array
    fabric_w_k: Array
    air_w: Array
    air_w_k: Array
    rest_w: Array


class Response:
    """The heated rooms of a sized system, their heat and their losses for deviations of `inputs`.

    Deviations are (S, I), in the unit of each input.
    """

    def __init__(self, system: SizedSystem, inputs: Sequence[UncertainInput]) -> None:
        self.system, self.inputs = system, tuple(inputs)
        heated = system.survey.heated_rooms
        self.rooms = [loss.room for loss in system.room_losses if loss.room in heated]
        self._losses = self._room_losses()
        self._constants = {
            profile: self._rating_constants(str(profile), one)
            for one in self.inputs
            if one.kind == "rating"
            for profile in one.items
        }

    @property
    def affects_water(self) -> list[bool]:
        """Whether each input affects the water; the others affect the losses alone."""
        return [KINDS[one.kind].affects_water for one in self.inputs]

    def heat(self, deviations: Array) -> RoomHeat:
        """Heat of the rooms with the water solved for each row of deviations; once, if no input affects the water."""
        if deviations.shape[0] > 1 and not any(self.affects_water):
            once = self.heat(deviations[:1])
            return RoomHeat(once.to_room_w.repeat(len(deviations), axis=1), once.back_loss_w.repeat(len(deviations), 1))
        system, network, count = self.system, self.system.achieved.network, deviations.shape[0]
        flow_temp_c = np.full(count, system.survey.project.flow_temp_c)
        output: dict[str, Array] = {}
        length, kv_m3_h = np.ones((len(network.loops), count)), {}
        loops = [loop.name for loop in system.survey.loops]
        for one, by in zip(self.inputs, deviations.T, strict=True):
            for item in one.items:
                if one.kind == "flow_temp_c":
                    flow_temp_c = flow_temp_c + by
                elif one.kind == "rating":
                    percent, ratio = self._constants[item]
                    output[str(item)] = np.interp(by, percent, ratio)
                elif one.kind == "length":
                    length[loops.index(str(item))] = _factor(by)
                elif one.kind == "setting":
                    kv_m3_h[int(item)] = self._kv(int(item), by)
        own_c = [loop.flow_temp_c for loop in system.survey.loops]
        found = solve_scenarios(
            network,
            Scenarios(
                flow_temp_c,
                loop_temp_c=np.array([np.inf if temp_c is None else temp_c for temp_c in own_c]),
                pumps=system.pumps,
                kv_m3_h=kv_m3_h or None,
                output_factor=output or None,
                length_factor=length if any(one.kind == "length" for one in self.inputs) else None,
            ),
            system.fluid,
            system.achieved.loop_flow_kg_s,
        )
        rows = [found.rooms.index(room) for room in self.rooms]
        return RoomHeat((found.room_w + found.tail_room_w)[rows], found.back_loss_w[rows])

    def margins_w(self, heat: RoomHeat, deviations: Array) -> Array:
        """Margin of each room in W, (rooms, S): heat less back loss and heat loss, with these deviations."""
        losses, count = self._losses, deviations.shape[0]
        fabric, air = np.ones((2, len(self.rooms), count))
        warmer_k = np.zeros(count)
        for one, by in zip(self.inputs, deviations.T, strict=True):
            if one.kind == "outdoor_c":
                warmer_k = warmer_k + by
            for factor, kind in ((fabric, "fabric"), (air, "air")):
                if one.kind == kind:
                    factor[[self.rooms.index(str(item)) for item in one.items]] = _factor(by)
        fabric_w = losses.fabric_w[:, None] + losses.fabric_w_k[:, None] * warmer_k
        air_w = losses.air_w[:, None] + losses.air_w_k[:, None] * warmer_k
        loss_w = fabric * fabric_w + air * air_w + losses.rest_w[:, None]
        return np.asarray(heat.to_room_w - fabric * heat.back_loss_w - loss_w)

    def _kv(self, place: int, by: Array) -> Array:
        """Kv of a valve at its setting in the design changed by these positions, within its table."""
        name = valve_locations(self.system.achieved.network)[place]
        table = self.system.survey.catalogue.valve(name).kv_m3_h
        settings = np.clip(self.system.settings[place].setting + by, 1.0, float(len(table)))
        return np.array([kv_at_setting(float(setting), table) for setting in settings])

    def _rating_constants(self, profile: str, one: UncertainInput) -> tuple[Array, Array]:
        """Deviations of a rating in %, and the constant of the channel equations with each, over that of the design."""
        low, high = one.band.at(np.array([1e-12, 1.0 - 1e-12]))
        percent = np.unique(np.append(np.linspace(max(low, LEAST_PERCENT), high, RATING_POINTS), 0.0))
        survey, film = self.system.survey, self.system.survey.project.water_film
        cases = [
            RatingAssumptions(film, {profile: RatingInterpretation(output_factor=1.0 + float(by) / 100.0)})
            for by in percent
        ]
        found = profile_characteristics(survey, self.system.layout, cases)
        constants = np.array([characteristics[profile][False].k_w_mkn for characteristics in found])
        return percent, constants / constants[percent == 0.0]

    def _room_losses(self) -> _Losses:
        system, project = self.system, self.system.survey.project
        colder = replace(system.survey, project=replace(project, outdoor_c=project.outdoor_c - COLDER_K))
        parts = np.array([_parts_w(losses, self.rooms) for losses in (system.room_losses, losses_at(system, colder))])
        slopes = (parts[0] - parts[1]) / COLDER_K
        fabric, air, rest = parts[0].T
        return _Losses(fabric, slopes[:, 0], air, slopes[:, 1], rest)


def _factor(percent: Array) -> Array:
    """The factor of deviations in per cent."""
    return 1.0 + np.maximum(percent, LEAST_PERCENT) / 100.0


def _parts_w(losses: Sequence[RoomLoss], rooms: Sequence[str]) -> list[tuple[float, float, float]]:
    """Fabric, air and other parts of the loss of each room in W; a stated loss counts as fabric."""
    by_room = {loss.room: loss for loss in losses}
    rows = []
    for room in rooms:
        loss = by_room[room]
        if loss.loss_source is not None:
            rows.append((loss.total_w, 0.0, 0.0))
            continue
        air_w = sum(part.heat_w for part in loss.parts if part.kind == "air")
        rest_w = sum(part.heat_w for part in loss.parts if part.kind == "reheat")
        rows.append((loss.total_w - air_w - rest_w, air_w, rest_w))
    return rows
