"""Create and change surveys in Python; every change is validated as a file is, and all errors are reported."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from heatloop.survey.building import Room
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.converting import survey_text, text_of_changed_file, write_survey
from heatloop.survey.loops import Loop
from heatloop.survey.read import marked_as_read, read_again
from heatloop.survey.survey import SurveyData, at_flow_temp, put_by_name, values_of
from heatloop.survey.to_tables.changes import changed_tables
from heatloop.survey.to_tables.survey_to_tables import plain_values, survey_to_tables
from heatloop.survey.water_system import Source
from heatloop.survey.workbook.frames import frames_of
from heatloop.survey.workbook.sheets import SURVEY_SHEETS
from heatloop.text.files import write_whole

if TYPE_CHECKING:
    import pandas as pd


class Survey(SurveyData):
    """A complete survey with its catalogue, checked and ready for sizing.

    A survey comes from :func:`heatloop.read_survey` or :func:`heatloop.survey_from_frames` and cannot be changed. The
    methods `with_...` and `without_...` return changed copies, validated as a file is.

    Attributes
    ----------
    project : Project
        Name, design temperatures in °C and how loops are sized.
    rooms : tuple of Room
        The rooms with walls, openings and temperatures.
    loops : tuple of Loop
        The loops with their routes.
    catalogue : Catalogue
        Profiles, joints, ends, valves and pipes.
    source, trunks, system, bypasses
        The source, the shared pipework and the closed system.
    building, build_ups, spaces
        Data common to all rooms: ground, build-ups and unheated spaces.
    path : pathlib.Path or None
        The file; None for a survey that was not read from one.

    Notes
    -----
    Every method that changes a survey raises InputError with all errors of the changed survey, as for a file.
    `dataclasses.replace` makes changed copies that are not checked before they are sized.

    Examples
    --------
    >>> import heatloop as hl
    >>> survey = hl.read_survey("data/mill-annexe/survey.toml")
    >>> survey.with_flow_temp(60.0).with_outdoor(-5.0).project.flow_temp_c
    60.0
    >>> survey.with_outdoor(-300.0)
    Traceback (most recent call last):
    heatloop.findings.input_errors.InputError: data/mill-annexe/survey.toml: project, outdoor_c: found -300.0; ...
    """

    def with_flow_temp(self, flow_temp_c: float) -> Self:
        """The survey with another flow temperature at the source.

        Parameters
        ----------
        flow_temp_c : float
            Flow temperature at the source in °C. A loop with its own flow temperature keeps it, unless it is
            above this one.

        Returns
        -------
        Survey

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/mill-annexe/survey.toml").with_flow_temp(60.0).project.flow_temp_c
        60.0
        """
        if isinstance(flow_temp_c, int | float):
            return self._checked(at_flow_temp(self, flow_temp_c))
        return self.with_values({"project": {"flow_temp_c": flow_temp_c}})

    def with_delta_t(self, delta_t_k: float) -> Self:
        """The survey with another design temperature drop.

        Parameters
        ----------
        delta_t_k : float
            Design drop of the loops in K; a loop with a drop of its own keeps it.

        Returns
        -------
        Survey

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/mill-annexe/survey.toml").with_delta_t(5.0).project.delta_t_k
        5.0
        """
        return self._checked(replace(self, project=replace(self.project, delta_t_k=delta_t_k)))

    def with_outdoor(self, outdoor_c: float) -> Self:
        """The survey with another design outdoor temperature.

        Parameters
        ----------
        outdoor_c : float
            Design outdoor temperature in °C.

        Returns
        -------
        Survey

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/mill-annexe/survey.toml").with_outdoor(-5.0).project.outdoor_c
        -5.0
        """
        return self._checked(replace(self, project=replace(self.project, outdoor_c=outdoor_c)))

    def with_source(self, source: Source) -> Self:
        """The survey with another heat source.

        Parameters
        ----------
        source : Source
            The source, as :func:`heatloop.build.source` makes it.

        Returns
        -------
        Survey

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/mill-annexe/survey.toml").with_source(hl.build.source("boiler")).source.kind
        'boiler'
        """
        return self._checked(replace(self, source=source))

    def with_profile(self, loop: str, profile: str) -> Self:
        """The survey with another profile on a loop.

        Parameters
        ----------
        loop : str
            Name of a loop.
        profile : str
            Name of a profile of the catalogue.

        Returns
        -------
        Survey

        Examples
        --------
        >>> import heatloop as hl
        >>> survey = hl.read_survey("data/mill-annexe/survey.toml")
        >>> survey.with_profile("Annexe", survey.loops[0].profile) == survey
        True
        """
        return self.with_values({"loop": {loop: {"profile": profile}}})

    def with_room(self, room: Room) -> Self:
        """The survey with a room added, or replacing the room of the same name.

        Parameters
        ----------
        room : Room
            The room, as :func:`heatloop.build.room` makes it. Rooms copied from the replaced room are not changed.

        Returns
        -------
        Survey

        Examples
        --------
        >>> import heatloop as hl
        >>> (survey := hl.read_survey("data/mill-annexe/survey.toml")).with_room(survey.room("Annexe")) == survey
        True
        """
        return self._checked(replace(self, rooms=put_by_name(self.rooms, room)))

    def with_loop(self, loop: Loop) -> Self:
        """The survey with a loop added, or replacing the loop of the same name.

        Parameters
        ----------
        loop : Loop
            The loop, as :func:`heatloop.build.loop` makes it.

        Returns
        -------
        Survey

        Examples
        --------
        >>> import heatloop as hl
        >>> (survey := hl.read_survey("data/mill-annexe/survey.toml")).with_loop(survey.loop("Annexe")) == survey
        True
        """
        return self._checked(replace(self, loops=put_by_name(self.loops, loop)))

    def without_room(self, name: str) -> Self:
        """The survey without a room.

        Parameters
        ----------
        name : str
            Name of the room. References to it, such as in a wall or a route, are reported as errors.

        Returns
        -------
        Survey

        Raises
        ------
        KeyError
            If the survey has no such room.

        Examples
        --------
        >>> import heatloop as hl
        >>> survey = hl.read_survey("data/mill-annexe/survey.toml")
        >>> survey.with_room(hl.build.room("Store", 18.0, heat_loss_w=90.0)).without_room("Store") == survey
        True
        """
        gone = self.room(name)
        rooms = [
            replace(room, copy_of=None) if room.copy_of == name else room for room in self.rooms if room is not gone
        ]
        return self._checked(replace(self, rooms=tuple(rooms)))

    def without_loop(self, name: str) -> Self:
        """The survey without a loop.

        Parameters
        ----------
        name : str
            Name of the loop.

        Returns
        -------
        Survey

        Raises
        ------
        KeyError
            If the survey has no such loop.

        Examples
        --------
        >>> import heatloop as hl
        >>> survey = hl.read_survey("data/alder-lodge/survey.toml")
        >>> len(survey.loops) - len(survey.without_loop(survey.loops[-1].name).loops)
        1
        """
        gone = self.loop(name)
        return self._checked(replace(self, loops=tuple(loop for loop in self.loops if loop is not gone)))

    def with_values(self, changes: Mapping[str, Any]) -> Self:
        """The survey with other values at any of its keys.

        Parameters
        ----------
        changes : mapping
            Tables of a survey file with the keys to change. One of several tables is identified by its name; a wall or
            another numbered item by its number from 1. None removes a key.

        Returns
        -------
        Survey

        Examples
        --------
        >>> import heatloop as hl
        >>> survey = hl.read_survey("data/mill-annexe/survey.toml")
        >>> larger = survey.with_values({"project": {"delta_t_k": 5.0}, "room": {"Annexe": {"indoor_c": 21.0}}})
        >>> larger.project.delta_t_k, larger.room("Annexe").indoor_c
        (5.0, 21.0)
        """
        tables = changed_tables(survey_to_tables(self), plain_values(changes), self.file)
        project = tables.get("project")
        named = project.get("catalogue", "") if isinstance(project, dict) else ""
        return self._read(tables, self.catalogue if named == self.project.catalogue else None)

    def to_toml(self) -> str:
        """The survey as the text of a survey file.

        Returns
        -------
        str
            Keys with their default value are left out; a comment above each wall states its direction. The path of the
            catalogue is as in the survey.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/mill-annexe/survey.toml").to_toml().splitlines()[0]
        '# Mill Annexe: written by heatloop.'
        """
        return survey_text(self)

    def to_frames(self) -> dict[str, pd.DataFrame]:
        """The survey as data frames: the sheets of a workbook, a column for each key in use.

        Returns
        -------
        dict of str to pandas.DataFrame
            :func:`heatloop.survey_from_frames` reads them.

        Examples
        --------
        >>> import heatloop as hl
        >>> frames = hl.read_survey("data/mill-annexe/survey.toml").to_frames()
        >>> frames["Rooms"]["name"].tolist()
        ['Annexe']
        """
        return frames_of(SURVEY_SHEETS, survey_to_tables(self))

    def save(self, path: str | Path) -> Path:
        """Write the survey into a new file.

        Parameters
        ----------
        path : str or pathlib.Path
            A new file, .toml or .xlsx. It states the path of the catalogue relative to the new file.

        Returns
        -------
        pathlib.Path
            The file.

        Raises
        ------
        InputError
            If the file exists, its name has another ending, or it cannot be written.

        Examples
        --------
        >>> import heatloop as hl, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     hl.read_survey("data/mill-annexe/survey.toml").save(f"{folder}/copy.toml").name
        'copy.toml'
        """
        return write_survey(self, path)

    def save_changes(self, path: str | Path) -> Path:
        """Change an existing survey file (TOML) so that it holds this survey; its comments and order stay.

        Parameters
        ----------
        path : str or pathlib.Path
            The survey file. Values that are the same in file and survey are not changed.

        Returns
        -------
        pathlib.Path
            The file.

        Raises
        ------
        InputError
            If the file cannot be read as a survey, or cannot be changed to this survey.

        Examples
        --------
        >>> import heatloop as hl, pathlib, shutil, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     file = shutil.copytree("data/mill-annexe", f"{folder}/annexe") + "/survey.toml"
        ...     survey = hl.read_survey(file)
        ...     changed = survey.with_outdoor(-5.0).save_changes(file)
        ...     changed.read_text().count("#") == pathlib.Path("data/mill-annexe/survey.toml").read_text().count("#")
        True
        """
        target = Path(path)
        write_whole(target, text_of_changed_file(target, self))
        return target

    def _checked(self, changed: SurveyData) -> Self:
        return self._read(survey_to_tables(changed), changed.catalogue)

    def _read(self, tables: dict[str, Any], catalogue: Catalogue | None) -> Self:
        return marked_as_read(type(self)(**values_of(read_again(tables, self.path, catalogue))))
