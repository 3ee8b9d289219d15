"""Faults of files of readings."""

from __future__ import annotations

import pytest

import heatloop as hl
from heatloop.diagnosis.readings_file import readings_of


def faults_of(text, design):
    """The lines in which a text is refused as the readings of a design."""
    with pytest.raises(hl.InputError) as caught:
        readings_of(text, "visit.csv", design.system)
    return [str(fault) for fault in caught.value.issues]
