"""What a design requires but a parts list does not hold, for order and quotation."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from heatloop.handover.parts.model import Part
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import listing


class Required(NamedTuple):
    """Parts of one kind that a design requires: how many pieces, and the word by which an item names such a part.

    One item of any quantity is enough where `pieces` is 0, as for a fluid. `in_source`: those of the parts that a heat
    source may contain.
    """

    word: str
    parts: tuple[str, ...]
    pieces: int
    plural: str = ""
    in_source: tuple[str, ...] = ()


class NotOrdered(NamedTuple):
    """Parts that are not ordered: those that a heat source may contain, and those to be bought in any case."""

    perhaps_in_source: tuple[str, ...]
    separate: tuple[str, ...]


def not_ordered(survey: SurveyData, parts: Iterable[Part]) -> NotOrdered:
    """Parts that the design requires and that the parts list does not hold, or not in that number.

    Pumps, mixing valves, parts of the closed system, other parts with water such as a buffer, thermostatic heads and
    additives. An item counts, with its order quantity, where its name has the word of the kind; the heat source itself
    is not considered.
    """
    ordered = [(part.item.lower(), part.order_quantity) for part in parts]
    volumes = [
        Required(other.name.lower(), (words,), 1, in_source=(words,))
        for other in survey.system.additional_volume
        for words in (f"{other.name}, {other.water_l:g} l of water",)
    ]
    rest = [(name, quantity) for name, quantity in ordered if not any(volume.word in name for volume in volumes)]
    missing = [
        *((words, words in kind.in_source) for kind in _required(survey) for words in _missing(kind, rest)),
        *((words, words in volume.in_source) for volume in volumes for words in _missing(volume, ordered)),
    ]
    return NotOrdered(
        tuple(words for words, in_source in missing if in_source),
        tuple(words for words, in_source in missing if not in_source),
    )


def _missing(kind: Required, ordered: Sequence[tuple[str, float]]) -> Iterator[str]:
    """Every part of a kind where no item names it; the number of those missing where there are too few."""
    quantity = sum(quantity for name, quantity in ordered if kind.word in name)
    if quantity == 0.0:
        yield from kind.parts
    elif quantity < kind.pieces:
        which = f" ({listing(kind.parts)})" if len(kind.parts) > 1 else ""
        yield f"{kind.pieces - int(quantity)} of {kind.pieces} {kind.plural}{which}"


def _required(survey: SurveyData) -> Iterator[Required]:
    """Every kind of part that the design requires."""
    mixed = tuple(f'trunk "{trunk.name}"' for trunk in survey.trunks if trunk.mixed_to_c is not None)
    pumps = ("pump at the heat source", *(f"pump of {name}" for name in mixed))
    yield Required("pump", pumps, len(pumps), "pumps", in_source=pumps[:1])
    loops = tuple(f'loop "{loop.name}"' for loop in survey.loops if loop.flow_temp_c is not None)
    valves = tuple(f"mixing valve of {name}" for name in (*mixed, *loops))
    yield Required("mixing valve", valves, len(valves), "mixing valves")
    for word, part in (("vessel", "expansion vessel"), ("relief", "relief valve"), ("gauge", "pressure gauge")):
        yield Required(word, (part,), 1, in_source=(part,))
    for word, part in (("filter", "filter with magnet"), ("backflow", "backflow preventer for filling")):
        yield Required(word, (part,), 1)
    pairs = [pair for loop in survey.loops for pair in (loop.valves, *loop.arm_valves)]
    fitted = [name for pair in pairs for name in (pair.flow, pair.return_) if name is not None]
    heads = sum(survey.catalogue.valve(name).kvs_m3_h is not None for name in fitted)
    if heads:
        yield Required("head", ("thermostatic heads",), heads, "thermostatic heads")
    for additive in ("cleanser", "inhibitor", *(("antifreeze",) if survey.project.antifreeze is not None else ())):
        yield Required(additive, (additive,), 0)
