"""Characteristics of profiles kept for a process: most designs identify those of the same few catalogues."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from heatloop.hydraulics.heat.profile_rating import Characteristic, IdentificationInput
from heatloop.physics.water import Fluid

Identify = Callable[[Sequence[IdentificationInput], Fluid], tuple[Characteristic, ...]]


def identified_once(identify: Identify) -> Identify:
    """The same identification, which answers equal ratings and the same fluid from memory; errors are not kept."""
    known: dict[tuple[tuple[IdentificationInput, ...], Fluid], tuple[Characteristic, ...]] = {}

    def answered(required: Sequence[IdentificationInput], fluid: Fluid) -> tuple[Characteristic, ...]:
        job = tuple(required), fluid
        if job not in known:
            known[job] = identify(required, fluid)
        return known[job]

    return answered
