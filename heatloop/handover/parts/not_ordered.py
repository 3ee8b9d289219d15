"""What a design requires but a parts list does not hold, for order and quotation."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from heatloop.survey.survey import SurveyData


def not_ordered(survey: SurveyData, items: Iterable[str]) -> tuple[str, ...]:
    """Parts that the design requires and that no item of the parts list names.

    Pumps, mixing valves, parts of the closed system, thermostatic heads and additives. An item counts as naming a part
    where its name has the word in `_required`; the heat source itself is not considered.
    """
    names = [item.lower() for item in items]
    return tuple(part for part, word in _required(survey) if not any(word in name for name in names))


def _required(survey: SurveyData) -> Iterator[tuple[str, str]]:
    """Every part that the design requires, with the word by which an item would name it."""
    mixed = [f'trunk "{trunk.name}"' for trunk in survey.trunks if trunk.mixed_to_c is not None]
    yield "pump at the heat source", "pump"
    for name in mixed:
        yield f"pump of {name}", "pump"
    for name in (*mixed, *(f'loop "{loop.name}"' for loop in survey.loops if loop.flow_temp_c is not None)):
        yield f"mixing valve of {name}", "mixing valve"
    yield "expansion vessel", "vessel"
    yield "relief valve", "relief"
    yield "pressure gauge", "gauge"
    yield "filter with magnet", "filter"
    yield "backflow preventer for filling", "backflow"
    pairs = [pair for loop in survey.loops for pair in (loop.valves, *loop.arm_valves)]
    fitted = {name for pair in pairs for name in (pair.flow, pair.return_) if name is not None}
    if any(survey.catalogue.valve(name).kvs_m3_h is not None for name in fitted):
        yield "thermostatic heads", "head"
    yield "cleanser", "cleanser"
    yield "inhibitor", "inhibitor"
    if survey.project.antifreeze is not None:
        yield "antifreeze", "antifreeze"
