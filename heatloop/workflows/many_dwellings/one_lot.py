"""One lot of dwellings: prepared, sized together or each by itself, and their rows; faults are rows, too."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from heatloop.findings.input_errors import InputError
from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.hydraulics.lots.lot_state import LotState
from heatloop.hydraulics.lots.room_heat import room_states
from heatloop.hydraulics.lots.size_lot import DwellingsNotSized, size_lot
from heatloop.layout.build import validated_survey
from heatloop.physics.friction import NO_CURVES, FrictionTable
from heatloop.results.many_dwellings.checks import lot_checks, open_flows_l_h
from heatloop.results.many_dwellings.sized_dwellings import IN_LOT, NOT_SIZED, SizedDwellings
from heatloop.results.many_dwellings.tables import Columns, dwelling_columns, loop_columns, room_columns
from heatloop.results.tables.summary import open_flow_l_h
from heatloop.survey.survey import SurveyData
from heatloop.workflows.size import balanced_system, check_duty

FAULTS = (InputError, ArithmeticError, np.linalg.LinAlgError)
"""Errors of one dwelling, which are its faults."""

MAX_CURVES = 100
"""Friction curves that are kept from one lot to the next."""

DID_NOT_CONVERGE = "its lot did not converge"


@dataclass(frozen=True, eq=False)
class Entry:
    """A dwelling by its name: a survey, or the path of a survey file."""

    name: str
    survey: SurveyData | str | Path


@dataclass(frozen=True, eq=False)
class _Prepared:
    name: str
    dwelling: LotDwelling


class LotSizer:
    """Sizes one lot after the other; friction curves of the pipes are kept between them."""

    def __init__(self) -> None:
        self.friction: FrictionTable = NO_CURVES

    def size(self, entries: Sequence[Entry]) -> SizedDwellings:
        """The rows of these dwellings, in their order."""
        with _collector_paused():
            return self._size(entries)

    def _size(self, entries: Sequence[Entry]) -> SizedDwellings:
        parts: list[dict[str, Columns]] = []
        kinds: dict[tuple[object, ...], list[_Prepared]] = {}
        alone: list[tuple[_Prepared, str]] = []
        for entry in entries:
            try:
                prepared = _Prepared(entry.name, _prepared(entry))
            except FAULTS as error:
                parts.append(_faults(entry.name, error))
                continue
            if (reason := prepared.dwelling.alone_because()) is not None:
                alone.append((prepared, reason))
            else:
                kinds.setdefault(prepared.dwelling.of_one_kind_with(), []).append(prepared)
        for some in kinds.values():
            for state, names in self._together(some, alone):
                parts.append(_rows(state, names, IN_LOT, open_flows_l_h(state)))
        parts += [_by_itself(prepared, reason) for prepared, reason in alone]
        return SizedDwellings.of_columns(parts, [entry.name for entry in entries])

    def _together(
        self, some: Sequence[_Prepared], alone: list[tuple[_Prepared, str]]
    ) -> Iterator[tuple[LotState, list[str]]]:
        """Lots of these dwellings that can be sized together; the others are added to `alone`.

        Where a lot does not converge, each half of it is sized by itself.
        """
        left = list(some)
        while left:
            try:
                state = size_lot([prepared.dwelling for prepared in left], self.friction)
            except DwellingsNotSized as error:
                alone += [(prepared, error.reason) for k, prepared in enumerate(left) if k in error.dwellings]
                left = [prepared for k, prepared in enumerate(left) if k not in error.dwellings]
                continue
            except (ArithmeticError, np.linalg.LinAlgError):
                if len(left) == 1:
                    alone.append((left[0], DID_NOT_CONVERGE))
                    return
                half = len(left) // 2
                yield from self._together(left[:half], alone)
                yield from self._together(left[half:], alone)
                return
            table = state.network.elements.table
            self.friction = table if len(table.ducts) <= MAX_CURVES else NO_CURVES
            yield state, [prepared.name for prepared in left]
            return


@contextmanager
def _collector_paused() -> Iterator[None]:
    """Without cyclic garbage collection, if it is enabled.

    A lot consists of several hundred thousand values without cycles; searching them for cycles takes a tenth of the
    time of a lot.
    """
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


def _prepared(entry: Entry) -> LotDwelling:
    survey = validated_survey("size_many", entry.survey)
    dwelling = LotDwelling.of(survey)
    check_duty(survey, dwelling.fluid)
    return dwelling


def _by_itself(prepared: _Prepared, reason: str) -> dict[str, Columns]:
    try:
        system = balanced_system(prepared.dwelling.survey)
        state = LotState.of_system(system)
        return _rows(state, [prepared.name], f"by itself: {reason}", np.array([open_flow_l_h(system)]))
    except FAULTS as error:
        return _faults(prepared.name, error)


def _rows(state: LotState, names: Sequence[str], sizing: str, open_l_h: np.ndarray) -> dict[str, Columns]:
    """The columns of all tables of a sized lot."""
    heat, pieces = room_states(state)
    rooms, loops = room_columns(state, heat, names), loop_columns(state, names)
    outcomes = lot_checks(state, rooms, loops, pieces, open_l_h)
    return {
        "rooms": rooms,
        "loops": loops,
        "dwellings": {
            **dwelling_columns(state, rooms, names),
            "sizing": sizing,
            "verdict": outcomes.verdicts,
            "checks_failed": outcomes.number("fail"),
            "checks_caution": outcomes.number("caution"),
        },
        "unmet_checks": outcomes.columns(names),
    }


def _faults(name: str, error: Exception) -> dict[str, Columns]:
    """The rows of a dwelling that cannot be sized: one for each line of the error, and one without figures."""
    lines = str(error).splitlines() or [type(error).__name__]
    return {
        "faults": {"dwelling": [name] * len(lines), "fault": lines},
        "dwellings": {"dwelling": [name], "sizing": [NOT_SIZED], "verdict": [""], "index_loop": [""]},
    }
