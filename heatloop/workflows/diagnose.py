"""Diagnosis from a design and readings of its site."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from heatloop.diagnosis import simulate
from heatloop.diagnosis.diagnosis import Diagnosis, diagnose_model
from heatloop.diagnosis.readings import Readings
from heatloop.diagnosis.readings_file import readings_in_file
from heatloop.diagnosis.simulated_site import Instruments, SimulatedTruth, SiteDeviations, SiteFault
from heatloop.diagnosis.site_model.prediction import site_model
from heatloop.results.design import DesignResult


def read_readings(path: str | Path, design: DesignResult) -> Readings:
    """Readings from site, read from a file.

    Parameters
    ----------
    path : str or pathlib.Path
        A CSV file of readings; the page "How to find a fault from site readings" of the documentation
        describes its columns.
    design : Design
        The design of the site; readings refer to its loops and rooms.

    Returns
    -------
    Readings

    Raises
    ------
    InputError
        If the file cannot be read or has faults. Every issue is listed with its place.

    Examples
    --------
    >>> import heatloop as hl
    >>> design = hl.size("data/alder-lodge/draft.toml")
    >>> hl.read_readings("data/alder-lodge/readings-air.csv", design).get("flow temperature", "Kitchen").of
    'Kitchen'
    """
    return readings_in_file(path, design.system)


def diagnose(design: DesignResult, readings: Readings | str | Path) -> Diagnosis:
    """Likely faults on the site of a design, from readings taken there.

    Parameters
    ----------
    design : Design
        The design of the site.
    readings : Readings, str or pathlib.Path
        Readings, or the path of a CSV file of readings.

    Returns
    -------
    Diagnosis
        Likely faults with probabilities, estimated flows, and the next readings to take.

    Raises
    ------
    InputError
        If the file of readings cannot be read or has faults. Every issue is listed with its place.

    Notes
    -----
    Every kind of fault is tested at every loop of a model of the site. Its probability follows from Bayes' theorem: the
    probability of the readings with this fault, times the frequency of the fault. The page "Diagnosis" of the
    documentation gives the model and its limits.

    Examples
    --------
    >>> import heatloop as hl
    >>> design = hl.size("data/alder-lodge/draft.toml")
    >>> found = hl.diagnose(design, "data/alder-lodge/readings-air.csv")
    >>> 0.0 < float(found.explanations["probability"].iloc[0]) <= 1.0
    True
    """
    if not isinstance(readings, Readings):
        readings = read_readings(readings, design)
    return diagnose_model(site_model(design.system, readings.thermostatic_heads_removed is True), readings)


def simulate_readings(
    design: DesignResult,
    faults: Sequence[SiteFault],
    rng: np.random.Generator,
    *,
    outdoor_c: float = 3.0,
    source_setting_c: float | None = None,
    instruments: Instruments | None = None,
    deviations: SiteDeviations | None = None,
) -> tuple[Readings, SimulatedTruth]:
    """Simulate the readings of a site with known faults and thermostatic heads removed.

    Parameters
    ----------
    design : Design
        The design of the site.
    faults : sequence of SiteFault
        The faults of the site; empty for a site without a fault.
    rng : numpy.random.Generator
        Source of the random deviations of the site and of the errors of the instruments.
    outdoor_c : float, default 3.0
        Outdoor temperature in °C.
    source_setting_c : float, optional
        Flow temperature set at the source in °C; None: that of the design.
    instruments : Instruments, optional
        Errors of the instruments, and quantities that are read in addition to pipe temperatures.
    deviations : SiteDeviations, optional
        Deviations of valves, outputs, heads and losses of the site from the design.

    Returns
    -------
    readings : Readings
        The simulated readings.
    truth : SimulatedTruth
        The true values: `flow_l_h` of each loop, `return_c`, `source_c`, `bias_k` of the thermometer in K, and
        `room_c` of each room.

    Raises
    ------
    ValueError
        If the loop of a fault is not in the design, or the fault is impossible there.

    Examples
    --------
    >>> import heatloop as hl
    >>> import numpy as np
    >>> design = hl.size("data/mill-annexe/survey.toml")
    >>> fault = hl.SiteFault("too little water", loop="Annexe", size=0.3)
    >>> readings, truth = hl.simulate_readings(design, [fault], np.random.default_rng(1))
    >>> readings.thermostatic_heads_removed
    True
    """
    return simulate.simulate_readings(
        design.system,
        faults,
        rng,
        outdoor_c=outdoor_c,
        source_setting_c=source_setting_c,
        instruments=instruments,
        deviations=deviations,
    )
