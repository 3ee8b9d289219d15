"""The survey as one frozen value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any, Literal, TypeVar

from heatloop.findings.input_errors import InputIssue
from heatloop.survey.building import Building, BuildUp, Room, UnheatedSpace
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.documents.document import Document
from heatloop.survey.documents.first_fix import FirstFixBasis
from heatloop.survey.documents.quotation import QuotationTerms
from heatloop.survey.files.key_path import place_in_file
from heatloop.survey.loops import Loop, RouteCrossing
from heatloop.survey.profiles import Profile
from heatloop.survey.water_system import Antifreeze, Bypass, Source, Trunk, WaterSystem
from heatloop.text.column import number_column, text_column
from heatloop.text.formatting import listing, plural
from heatloop.text.summary import HasSummary, Summary, grid

SHOWN_ROOMS = (
    text_column("room", "Room"),
    number_column("level_m", "Level", "m", 2),
    number_column("indoor_c", "Indoor", "°C", 1),
    number_column("height_m", "Height", "m", 2),
    text_column("walls", "Walls"),
    number_column("around_m", "Perimeter", "m", 2),
    number_column("stated_w", "Loss stated", "W", 0),
)
SHOWN_LOOPS = (
    text_column("loop", "Loop"),
    text_column("profile", "Profile"),
    text_column("arrangement", "Arrangement"),
    text_column("trunk", "Trunk"),
    text_column("rooms", "Rooms"),
    number_column("flow_temp_c", "Flow temperature", "°C", 1),
)


def survey_summary(survey: SurveyData) -> Summary:
    """The project, its rooms and its loops."""
    project, source = survey.project, survey.source
    levels = sorted({room.level_m for room in survey.rooms})
    where = f" on {len(levels)} levels" if len(levels) > 1 else ""
    sized = f"a drop of {project.delta_t_k:g} K" if project.size_by == "drop" else "the loss of the rooms"
    output = "" if source.output_kw is None else f" of {source.output_kw:g} kW"
    shared = f", {plural(len(survey.trunks), 'trunk')}" if survey.trunks else ""
    return Summary(
        f"{project.name}, survey",
        (
            f"{plural(len(survey.rooms), 'room')}{where}, {plural(len(survey.loops), 'loop')}{shared}; {source.kind}"
            f"{output}.",
            f"Design day {project.outdoor_c:g} °C outdoors, flow {project.flow_temp_c:g} °C, sized by {sized}.",
        ),
        (
            grid(
                "Rooms",
                map(_room, survey.rooms),
                SHOWN_ROOMS,
            ),
            grid(
                "Loops",
                (_loop(survey, loop) for loop in survey.loops),
                SHOWN_LOOPS,
            ),
        ),
    )


def _room(room: Room) -> dict[str, object]:
    return {
        "room": room.name,
        "level_m": room.level_m,
        "indoor_c": room.indoor_c,
        "height_m": room.height_m,
        "walls": str(len(room.walls)) if room.walls else "not surveyed",
        "around_m": sum(wall.length_m for wall in room.walls) or None,
        "stated_w": room.heat_loss_w,
    }


def _loop(survey: SurveyData, loop: Loop) -> dict[str, object]:
    names = [getattr(item, "room", None) for arm in loop.arms for item in arm]
    names += [item.room for item in loop.emitters]
    return {
        "loop": loop.name,
        "profile": loop.profile or listing(dict.fromkeys(item.emitter for item in loop.emitters)),
        "arrangement": arrangement_words(loop),
        "trunk": loop.trunk or "at the source",
        "rooms": ", ".join(dict.fromkeys(name for name in names if name)),
        "flow_temp_c": survey.project.flow_temp_c if loop.flow_temp_c is None else loop.flow_temp_c,
    }


def arrangement_words(loop: Loop) -> str:
    """Water path of a loop: its arrangement, centre-fed, or no skirting."""
    if not loop.arms:
        return "no skirting"
    return "centre-fed" if len(loop.arms) > 1 else loop.arrangement


@dataclass(frozen=True)
class Project:
    """The project: temperatures, sizing of the loops, and scope of the calculation."""

    name: str
    outdoor_c: float
    flow_temp_c: float
    catalogue: str
    delta_t_k: float = 7.0
    size_by: Literal["drop", "loss"] = "drop"
    water_film: bool = True
    pipe_losses: bool = True
    annual_mean_c: float | None = None
    antifreeze: Antifreeze | None = None
    buoyancy: bool = False
    tees: bool = False


@dataclass(frozen=True)
class SurveyData(HasSummary):
    """Frozen values of a survey with its catalogue.

    :class:`heatloop.survey.editing.Survey` adds methods to change them. `path` is the file; None for a survey not read
    from a file. `cells`: the cell of a workbook by the place in words; empty for any other file.
    """

    project: Project
    building: Building
    build_ups: tuple[BuildUp, ...]
    spaces: tuple[UnheatedSpace, ...]
    rooms: tuple[Room, ...]
    source: Source
    trunks: tuple[Trunk, ...]
    loops: tuple[Loop, ...]
    catalogue: Catalogue
    path: Path | None = None
    system: WaterSystem = field(default_factory=WaterSystem)
    bypasses: tuple[Bypass, ...] = ()
    first_fix: FirstFixBasis = field(default_factory=FirstFixBasis)
    document: Document = field(default_factory=Document)
    quotation: QuotationTerms = field(default_factory=QuotationTerms)
    cells: Mapping[str, str] = field(default_factory=dict, compare=False, repr=False)

    def summary_block(self) -> Summary:
        """Summary of project, rooms and loops, as printed and as shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/mill-annexe/survey.toml").summary_block().title
        'Mill Annexe, survey'
        """
        return survey_summary(self)

    @property
    def file(self) -> str:
        """Name of this survey in messages: the path of its file, or "survey" without a file.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/mill-annexe/survey.toml").file
        'data/mill-annexe/survey.toml'
        """
        return "survey" if self.path is None else str(self.path)

    @property
    def catalogue_file(self) -> str:
        """Name of its catalogue in messages: the path of its file or, without a file, as stated in the survey.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/mill-annexe/survey.toml").catalogue_file.split("/")[-1]
        'catalogue.toml'
        """
        return self.project.catalogue if self.path is None else str(self.path.parent / self.project.catalogue)

    def fault(self, place: str, found: str, required: str) -> InputIssue:
        """A fault in this survey's file.

        Parameters
        ----------
        place, found, required : str
            Place in the survey, what it has, and what it must have, as in the messages of input errors.

        Returns
        -------
        InputIssue

        Examples
        --------
        >>> import heatloop as hl
        >>> str(hl.read_survey("data/mill-annexe/survey.toml").fault("project, delta_t_k", "0", "above 0"))
        'data/mill-annexe/survey.toml: project, delta_t_k: found 0; required: above 0'
        """
        return InputIssue(self.file, place_in_file(place, self.cells), found, required)

    @property
    def profiles(self) -> tuple[Profile, ...]:
        """The profiles of its loops, each once; none where all heat comes from other emitters.

        Examples
        --------
        >>> import heatloop as hl
        >>> survey = hl.read_survey("data/mill-annexe/survey.toml")
        >>> [profile.name for profile in survey.profiles]
        ['three-channel 175']
        """
        return tuple(self.catalogue.profile(name) for name in dict.fromkeys(i.profile for i in self.loops if i.profile))

    @property
    def heated_rooms(self) -> tuple[str, ...]:
        """Names of the rooms with skirting or another emitter, each once.

        Examples
        --------
        >>> import heatloop as hl
        >>> survey = hl.read_survey("data/mill-annexe/survey.toml")
        >>> survey.heated_rooms
        ('Annexe',)
        """
        routed = (i.room for loop in self.loops for arm in loop.arms for i in arm if not isinstance(i, RouteCrossing))
        return tuple(dict.fromkeys((*routed, *(emitter.room for loop in self.loops for emitter in loop.emitters))))

    def room(self, name: str) -> Room:
        """The room of that name.

        Parameters
        ----------
        name : str
            Name of the room.

        Returns
        -------
        Room

        Raises
        ------
        KeyError
            If the survey has no such room.

        Examples
        --------
        >>> import heatloop as hl
        >>> survey = hl.read_survey("data/mill-annexe/survey.toml")
        >>> survey.room("Annexe").indoor_c
        21.0
        """
        return _named(self.rooms, name, "room")

    def build_up(self, name: str) -> BuildUp:
        """The build-up of that name.

        Parameters
        ----------
        name : str
            Name of the build-up.

        Returns
        -------
        BuildUp

        Raises
        ------
        KeyError
            If the survey has no such build-up.

        Examples
        --------
        >>> import heatloop as hl
        >>> len(hl.read_survey("data/mill-annexe/survey.toml").build_up("slab").layers)
        2
        """
        return _named(self.build_ups, name, "build-up")

    def space(self, name: str) -> UnheatedSpace:
        """The unheated space of that name.

        Parameters
        ----------
        name : str
            Name of the unheated space.

        Returns
        -------
        UnheatedSpace

        Raises
        ------
        KeyError
            If the survey has no such unheated space.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/alder-lodge/survey.toml").space("Roof space").name
        'Roof space'
        """
        return _named(self.spaces, name, "space")

    def trunk(self, name: str) -> Trunk:
        """The trunk of that name.

        Parameters
        ----------
        name : str
            Name of the trunk.

        Returns
        -------
        Trunk

        Raises
        ------
        KeyError
            If the survey has no such trunk.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.read_survey("data/alder-lodge/survey.toml").trunk("upstairs").pipe
        'copper 22'
        """
        return _named(self.trunks, name, "trunk")

    def loop(self, name: str) -> Loop:
        """The loop of that name.

        Parameters
        ----------
        name : str
            Name of the loop.

        Returns
        -------
        Loop

        Raises
        ------
        KeyError
            If the survey has no such loop.

        Examples
        --------
        >>> import heatloop as hl
        >>> survey = hl.read_survey("data/mill-annexe/survey.toml")
        >>> survey.loop("Annexe").arrangement
        'one-way'
        """
        return _named(self.loops, name, "loop")


def put_by_name(items: tuple[Any, ...], new: Any) -> tuple[Any, ...]:
    """Items with a new one in the place of that of its name, or at the end."""
    if any(item.name == new.name for item in items):
        return tuple(new if item.name == new.name else item for item in items)
    return (*items, new)


def values_of(survey: SurveyData) -> dict[str, Any]:
    """The values of a survey by their names."""
    return {field.name: getattr(survey, field.name) for field in fields(SurveyData)}


def at_flow_temp(survey: AnySurvey, flow_temp_c: float) -> AnySurvey:
    """The survey with another flow temperature at the source, unchecked.

    A loop with its own flow temperature keeps it, unless it is above this one.
    """
    loops = tuple(
        loop if loop.flow_temp_c is None else replace(loop, flow_temp_c=min(loop.flow_temp_c, float(flow_temp_c)))
        for loop in survey.loops
    )
    return replace(survey, project=replace(survey.project, flow_temp_c=float(flow_temp_c)), loops=loops)


AnySurvey = TypeVar("AnySurvey", bound=SurveyData)
Named = TypeVar("Named", Room, BuildUp, UnheatedSpace, Trunk, Loop)


def _named(items: tuple[Named, ...], name: str, kind: str) -> Named:
    for item in items:
        if item.name == name:
            return item
    raise KeyError(f"no {kind} is called {name!r}; there are {', '.join(repr(i.name) for i in items)}")
