"""A whole survey from its parts, for `hl.build`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from heatloop.survey.builders.keys import value_with_keys
from heatloop.survey.building import Building, BuildUp, Room, UnheatedSpace
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.editing import Survey
from heatloop.survey.entry import survey_from
from heatloop.survey.loops import Loop
from heatloop.survey.read import read_catalogue
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Bypass, Source, Trunk, WaterSystem


def survey(
    name: str,
    outdoor_c: float,
    flow_temp_c: float,
    rooms: Sequence[Room],
    loops: Sequence[Loop],
    catalogue: str | Path | Catalogue,
    *,
    building: Building | None = None,
    build_ups: Sequence[BuildUp] = (),
    spaces: Sequence[UnheatedSpace] = (),
    source: Source | None = None,
    trunks: Sequence[Trunk] = (),
    bypasses: Sequence[Bypass] = (),
    system: WaterSystem | None = None,
    **keys: Any,
) -> Survey:
    """A survey of rooms and loops, checked as a file is.

    Parameters
    ----------
    name : str
        Title of the report.
    outdoor_c : float
        Design outdoor temperature in °C.
    flow_temp_c : float
        Flow temperature at the source in °C.
    rooms, loops : sequence of Room, of Loop
        From :func:`room` and :func:`loop`.
    catalogue : str, pathlib.Path or Catalogue
        The catalogue, or its file.
    building : Building, optional
        Data common to all rooms, from :func:`building`.
    build_ups, spaces, trunks, bypasses : sequence, optional
        From :func:`build_up`, :func:`space`, :func:`trunk`; bypasses as in a survey.
    source : Source, optional
        From :func:`source`.
    system : WaterSystem, optional
        The closed system.
    **keys
        Other keys, such as `delta_t_k` in K and `size_by`: units and meaning under `[project]` on the page "The survey
        file".

    Returns
    -------
    Survey

    Raises
    ------
    InputError
        If the survey has faults; all of them are listed.
    TypeError
        If there is no such key.

    Examples
    --------
    >>> import heatloop as hl
    >>> B = hl.build
    >>> den = B.rectangle("Den", 20.0, 4.0, 3.5, heat_loss_w=500.0)
    >>> loop = B.loop("Den", "two-channel 140", B.tails("copper 15", 3.0), B.route("Den", 1, 2, 3))
    >>> survey = B.survey("Small job", -3.0, 50.0, [den], [loop], "data/alder-lodge/catalogue.toml")
    >>> hl.size(survey).rooms["room"].tolist()
    ['Den']
    """
    held = catalogue if isinstance(catalogue, Catalogue) else read_catalogue(catalogue)
    path = "" if isinstance(catalogue, Catalogue) else Path(catalogue).as_posix()
    parts = SurveyData(
        project=value_with_keys(
            "survey", Project, keys, name=name, outdoor_c=outdoor_c, flow_temp_c=flow_temp_c, catalogue=path
        ),
        building=building or Building(),
        build_ups=tuple(build_ups),
        spaces=tuple(spaces),
        rooms=tuple(rooms),
        source=source or Source(),
        trunks=tuple(trunks),
        loops=tuple(loops),
        catalogue=held,
        system=system or WaterSystem(),
        bypasses=tuple(bypasses),
    )
    return survey_from("survey", parts)
