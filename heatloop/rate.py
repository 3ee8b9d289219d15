"""What a given system does: pump, settings, flow temperature and weather as they are, thermostatic valves at work.

Rooms are held at their temperatures; a thermostatic valve lets through what its room wants, and no more than it can.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop import tabulate, tabulate_rating, tabulate_valves
from heatloop.account import rating_account
from heatloop.circuit.assembly import Assembly
from heatloop.circuit.path import loop_paths
from heatloop.circuit.presets import valve_places
from heatloop.circuit.pump import HeadLaw, commissioned
from heatloop.circuit.solve import Operation
from heatloop.circuit.thermostats import govern
from heatloop.conditions import Settings, asked_pump, at_conditions, check_arguments, check_conditions, settings_kv
from heatloop.describe import Account, Speaks
from heatloop.design import floor_areas_m2, size
from heatloop.heat_loss import RoomLoss, room_losses
from heatloop.layout.model import Layout
from heatloop.layout.reading import validated_survey
from heatloop.physics.water import Fluid
from heatloop.plant import fluid_of, governors_of, network_of, pumps_of, supply_temp_c
from heatloop.result import SCHEMA_VERSION, Design, table_records
from heatloop.survey.model import Survey

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class Rating(Speaks):
    """What `rate` found: the survey at the conditions rated, the solved system, and the tables."""

    survey: Survey
    layout: Layout
    room_losses: tuple[RoomLoss, ...]
    operation: Operation
    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    @property
    def loops(self) -> pd.DataFrame:
        """One row a loop: its state (open, throttled, shut), flow against design, temperatures, output."""
        return self.frames["loops"].copy()

    @property
    def rooms(self) -> pd.DataFrame:
        """One row a room: its loss now, what the skirting gives, whether it is satisfied, what governs it."""
        return self.frames["rooms"].copy()

    @property
    def elements(self) -> pd.DataFrame:
        """One row an element in water order: temperatures, heat and pressure drop."""
        return self.frames["elements"].copy()

    @property
    def valves(self) -> pd.DataFrame:
        """One row a valve: its setting, Kv now, flow and pressure drop."""
        return self.frames["valves"].copy()

    @property
    def pumps(self) -> pd.DataFrame:
        """One row a pump: its duty point, how it runs, its power where the efficiency is known."""
        return self.frames["pumps"].copy()

    @property
    def along(self) -> pd.DataFrame:
        """Water temperature along every channel, point by point."""
        return self.frames["along"].copy()

    @property
    def summary(self) -> dict[str, Any]:
        """Source and pump, what the rooms get, residuals."""
        return dict(self.facts)

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """All tables by name."""
        return {name: frame.copy() for name, frame in self.frames.items()}

    def account(self) -> Account:
        """Rooms that are warm or not, loops and their state: what is printed and shown in a notebook."""
        return rating_account(self.facts, self.frames)

    def __repr__(self) -> str:
        return f"<Rating of {self.facts['project']!r}: {len(self.frames['loops'])} loops>"

    def to_dict(self) -> dict[str, Any]:
        """All tables as lists of row objects, `summary` and `schema_version`: the JSON form."""
        return {"schema_version": SCHEMA_VERSION, **table_records(self.frames, self.facts)}


def rate(
    system: Design | Survey | str | Path,
    *,
    flow_temp_c: float | None = None,
    outdoor_c: float | None = None,
    pump: Mapping[str, float] | None = None,
    settings: Settings = "real",
    closed: Collection[str] = (),
    room_c: float | Mapping[str, float] | None = None,
    thermostats: bool = True,
) -> Rating:
    """What a design, or the system a survey is sized to, does as it stands.

    flow_temp_c: of the source (None: the design's); outdoor_c and room_c (one for all, or by room): for the losses
    (None: the design's). `pump`, of the source, takes the keys of the survey's pump that say how it runs: speed,
    constant_kpa, or proportional_kpa with proportional_m3_h; None: as the survey has it, else as commissioned for
    the design. `settings` of the valves, see Settings; what a mapping leaves out is at the design's real setting.
    `closed`: loops shut by hand. `thermostats` False: thermostatic valves stay at their proportional band.

    Raises SurveyError for names, settings and pumps that are not there, ArithmeticError if the system has no answer.
    """
    check_arguments(flow_temp_c, outdoor_c, room_c, pump, settings, closed, thermostats)
    design = system if isinstance(system, Design) else size(validated_survey("rating", system))
    survey = at_conditions(design.survey, flow_temp_c, outdoor_c, room_c)
    water = fluid_of(survey)
    check_conditions(survey, _heated(design), closed, room_c, water)
    paths = loop_paths(survey, design.layout)
    network = network_of(survey, paths, design.operation.assembly.elements.table)
    exact = {place: float(design.operation.assembly.elements.kv_m3_h[place]) for place in valve_places(network)}
    network = network.with_kv(settings_kv(network, exact, settings, survey.catalogue))
    losses = _losses(design, survey)
    source_c = survey.project.flow_temp_c
    supply_c = np.array([supply_temp_c(survey, loop, source_c) for loop in survey.loops])
    drives = _drives(design, network, pump, water)
    found = govern(
        network,
        supply_c,
        water,
        drives=drives,
        source_c=source_c,
        buoyancy=survey.project.buoyancy,
        closed=np.array([loop.name in set(closed) for loop in survey.loops]),
        governors=governors_of(survey, losses) if thermostats else {},
        guess_kg_s=design.operation.loop_flow_kg_s,
    )
    return _rating(design, survey, losses, found, drives, water)


def _heated(design: Design) -> set[str]:
    """The rooms with skirting or another emitter."""
    others = {item.room for loop in design.survey.loops for item in loop.emitters}
    return others | {cell.room for arm in design.operation.assembly.arms for cell in arm.cells if cell.skirting}


def _losses(design: Design, survey: Survey) -> tuple[RoomLoss, ...]:
    """The rooms' losses at the temperatures of `survey`; what was stated grows with the difference indoors to out."""
    if survey.rooms == design.survey.rooms and survey.project.outdoor_c == design.survey.project.outdoor_c:
        return design.room_losses
    losses = []
    for loss in room_losses(survey, floor_areas_m2(design.layout)):
        if loss.stated_by is not None:
            before = design.survey.room(loss.room).indoor_c - design.survey.project.outdoor_c
            now = survey.room(loss.room).indoor_c - survey.project.outdoor_c
            loss = replace(loss, total_w=max(loss.total_w * now / before, 0.0))
        losses.append(loss)
    return tuple(losses)


def _drives(design: Design, network: Assembly, pump: Mapping[str, float] | None, water: Fluid) -> list[HeadLaw]:
    """The laws of all pumps: the source's as asked for, all others as the survey has them or as commissioned."""
    state = design.operation
    density = water.density_kg_m3(state.circuit_c)
    laws = [
        commissioned(curve, float(flow / rho), float(head))
        for curve, flow, rho, head in zip(
            pumps_of(design.survey, network), state.circuit_flow_kg_s, density, state.circuit_head_pa, strict=True
        )
    ]
    if pump is not None:
        laws[0] = asked_pump(design.survey.source.pump, pump)
    return laws


def _rating(
    design: Design,
    survey: Survey,
    losses: tuple[RoomLoss, ...],
    state: Operation,
    drives: list[HeadLaw],
    water: Fluid,
) -> Rating:
    density = [float(rho) for rho in water.density_kg_m3(state.circuit_c)]
    rooms = tabulate.rooms_table(design.layout, losses, state)
    governors = governors_of(survey, losses)
    frames = {
        "loops": tabulate_rating.loops_table(state, design.operation, governors),
        "rooms": tabulate_rating.with_governors(rooms, state, governors),
        "elements": tabulate.elements_table(state),
        "valves": tabulate_rating.valves_table(survey, state),
        "pumps": tabulate_valves.pumps_table(survey, state, drives, density),
        "along": tabulate.along_table(state),
    }
    facts = tabulate_rating.facts(survey, losses, state, frames, density[0])
    return Rating(survey, design.layout, losses, state, frames, facts)
