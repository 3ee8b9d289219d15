"""From a design and readings of its site to a diagnosis."""

from __future__ import annotations

from pathlib import Path

from heatloop.diagnosis.diagnosis import Diagnosis, diagnose_model
from heatloop.diagnosis.readings import Readings
from heatloop.diagnosis.readings_file import readings_in_file
from heatloop.diagnosis.site_model.prediction import site_model
from heatloop.results.design import Design


def read_readings(path: str | Path, design: Design) -> Readings:
    """The readings in a CSV file, of the loops and rooms of a design; raises SurveyError with every fault of it."""
    return readings_in_file(path, design.system)


def diagnose(design: Design, readings: Readings | str | Path) -> Diagnosis:
    """What is wrong on the site of a design, by readings brought back from it or a file of them.

    Raises SurveyError, one line a fault, where the file cannot be used.
    """
    if not isinstance(readings, Readings):
        readings = read_readings(readings, design)
    return diagnose_model(site_model(design.system, readings.heads_off is True), readings)
