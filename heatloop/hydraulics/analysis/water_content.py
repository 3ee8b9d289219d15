"""Water content of the system, part by part: the basis for the size of the vessel and the dose of additives.

Every waterway counts with its surveyed length times the area of its bore. A length of skirting is measured to the
corner, so joints are counted with the profile that they connect. Valves, vents and the water in the vessel are left
out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from heatloop.hydraulics.model import LoopPath, PathElement
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.layout.model import Layout, PlacedCrossing
from heatloop.physics.ducts import round_duct
from heatloop.survey.survey import SurveyData

Holds = Literal["profile channels", "tails", "crossings", "emitters", "trunks", "source", "other"]

HOLDS: dict[str, Holds] = {
    "piece": "profile channels",
    "floor section": "profile channels",
    "tail": "tails",
    "crossing": "crossings",
    "trunk": "trunks",
}


@dataclass(frozen=True)
class ContentItem:
    """One part that holds water: `channel_length_m` of bore, all channels counted, at `content_l_m`.

    Both are None for a part whose content is stated; `loop` is empty where it belongs to no loop.
    """

    part: Holds
    loop: str
    item: str
    channel_length_m: float | None
    content_l_m: float | None
    water_content_l: float


def contents(survey: SurveyData, layout: Layout, network: PipeNetwork) -> tuple[ContentItem, ...]:
    """Every part that holds water: loop by loop, then trunks, the source and additional parts of the survey.

    The content of a bore is its area times a metre, in litres.
    """
    crossed = _crossing_pipes(survey, layout)
    rows: dict[tuple[Holds, str, str, float], float] = {}
    for place in network.locations:
        element = place.element
        part = HOLDS.get(element.kind)
        if part is None or element.length_m <= 0.0:
            continue
        loop = network.loops[place.loop].loop.name if place.loop >= 0 else ""
        trunk = network.trunks[place.trunk] if place.trunk >= 0 else None
        item = f"{trunk.name}, {trunk.pipe}" if trunk else _item(survey, loop, element, crossed)
        key = (part, loop, item, element.duct.content_l_m)
        rows[key] = rows.get(key, 0.0) + element.length_m
    items = [
        ContentItem(part, loop, item, length_m, content_l_m, length_m * content_l_m)
        for (part, loop, item, content_l_m), length_m in rows.items()
    ]
    items += [
        ContentItem(
            "emitters", owner.name, emitter.emitter, None, None, survey.catalogue.emitter(emitter.emitter).water_l
        )
        for owner in survey.loops
        for emitter in owner.emitters
    ]
    order = {owner.name: number for number, owner in enumerate(survey.loops)}
    parts = get_args(Holds)
    items.sort(key=lambda row: (order.get(row.loop, len(order)), parts.index(row.part)))
    if survey.source.water_volume_l > 0.0:
        items.append(ContentItem("source", "", survey.source.kind, None, None, survey.source.water_volume_l))
    items += [
        ContentItem("other", "", other.name, None, None, other.water_l) for other in survey.system.additional_volume
    ]
    return tuple(items)


def _item(survey: SurveyData, loop: str, element: PathElement, crossed: Mapping[tuple[str, float], str]) -> str:
    """Content of the waterway of a loop: its profile or its pipe."""
    match element.kind:
        case "tail":
            return survey.loop(loop).tails.pipe
        case "crossing":
            return crossed[loop, element.duct.content_l_m]
        case _:
            return survey.loop(loop).profile


def _crossing_pipes(survey: SurveyData, layout: Layout) -> dict[tuple[str, float], str]:
    """Pipe of crossings by loop and content of the bore; pipes of the same bore are listed together."""
    pipes: dict[tuple[str, float], str] = {}
    for loop in layout.loops:
        crossings = (item for arm in loop.arms for item in arm.elements if isinstance(item, PlacedCrossing))
        for name in dict.fromkeys(crossing.pipe for crossing in crossings):
            key = loop.loop, round_duct(survey.catalogue.pipe(name).bore_m).content_l_m
            pipes[key] = f"{pipes[key]} and {name}" if key in pipes else name
    return pipes


def content_l(rows: Sequence[ContentItem]) -> float:
    """Water content of all these parts in litres."""
    return sum(row.water_content_l for row in rows)


def _trunk_water_l(network: PipeNetwork) -> float:
    return sum(p.element.duct.content_l_m * p.element.length_m for p in network.locations if p.trunk >= 0)


def _plant_water_l(survey: SurveyData) -> float:
    return survey.source.water_volume_l + survey.system.additional_volume_l


def system_water_l(survey: SurveyData, network: PipeNetwork) -> float:
    """Water content of source, trunks, loops and additional parts in litres."""
    return _plant_water_l(survey) + _trunk_water_l(network) + sum(loop.water_l for loop in network.loops)


def closing_valves(survey: SurveyData) -> set[str]:
    """Names of the valves that close without manual action."""
    return {valve.name for valve in survey.catalogue.valves if valve.kvs_m3_h is not None}


def open_water_l(survey: SurveyData, network: PipeNetwork) -> float:
    """Water in litres that still circulates when every thermostatic valve has closed."""
    return open_water_of_l(survey, network.loops, _trunk_water_l(network))


def open_water_of_l(survey: SurveyData, loops: Iterable[LoopPath], trunk_water_l: float) -> float:
    """As `open_water_l`, from the loops of a survey and the water content of its trunks."""
    closing = closing_valves(survey)
    free = [loop for loop in loops if loop.loop.valves.flow not in closing and loop.loop.valves.return_ not in closing]
    return _plant_water_l(survey) + (trunk_water_l if free else 0.0) + sum(loop.water_l for loop in free)
