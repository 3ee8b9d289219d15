"""The demonstration designs by their short names."""

from __future__ import annotations

import pytest

import heatloop as hl


@pytest.fixture(scope="session")
def lodge(lodge_of_unknown_system: hl.Design) -> hl.Design:
    return lodge_of_unknown_system


@pytest.fixture(scope="session")
def annexe(mill_annexe: hl.Design) -> hl.Design:
    return mill_annexe


@pytest.fixture(scope="session")
def loft(harbour_loft: hl.Design) -> hl.Design:
    return harbour_loft
