"""The plan of a survey that is being entered, as a picture, as a page, and in a notebook."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from markupsafe import Markup

from heatloop.findings.input_errors import InputIssue
from heatloop.report.drawings.survey_plan.level import LevelPicture
from heatloop.report.drawings.survey_plan.remarks import Remark
from heatloop.report.drawings.survey_plan.svg import KEY, level_svg, plan_svg, shown_name
from heatloop.report.folders.file_names import file_to_save
from heatloop.text.files import write_whole
from heatloop.text.formatting import listing, number, plural
from heatloop.text.html import rendered

MARKER = "heatloop plan"
"""Stands in every file of a plan, so that another plan may replace it."""

PACKAGE = "heatloop.report.drawings.survey_plan"


@dataclass(frozen=True, eq=False)
class SurveyPlan:
    """The rooms of a survey that is still being entered, with numbered errors, from :func:`heatloop.plan`.

    A notebook shows the plan with the list of errors.

    Attributes
    ----------
    title : str
        Name of the project, or of the file.
    issues : tuple of InputIssue
        All errors, in the order of their numbers.
    more : int
        Number of errors that are not described.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.plan("data/mill-annexe/survey.toml")
    <SurveyPlan: Plan of Mill Annexe: 1 room, no errors>
    """

    title: str
    issues: tuple[InputIssue, ...]
    more: int
    levels: tuple[LevelPicture, ...] = field(repr=False)
    remarks: tuple[Remark, ...] = field(repr=False)
    notes: tuple[str, ...] = field(repr=False)
    is_earlier: bool = field(default=False, repr=False)

    @property
    def room_count(self) -> int:
        """Number of rooms that are drawn.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.plan("data/mill-annexe/survey.toml").room_count
        1
        """
        return sum(len(level.rooms) for level in self.levels)

    @property
    def standing(self) -> str:
        """Rooms and errors in a sentence.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.plan("data/mill-annexe/survey.toml").standing
        '1 room drawn; no input errors.'
        """
        if self.is_earlier:
            return "The file cannot be read: the plan is that of its last version that could be read."
        drawn = f"{plural(self.room_count, 'room')} drawn" if self.levels else "No room can be drawn"
        count = len(self.issues) + self.more
        return f"{drawn}; {plural(count, 'input error') if count else 'no input errors'}."

    @property
    def alt_text(self) -> str:
        """Text alternative of the plan: levels, rooms, rooms that do not close, and number of errors.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.plan("data/mill-annexe/survey.toml").alt_text[:40]
        'Plan of Mill Annexe. 1 room drawn; no in'
        """
        sentences = []
        for level in self.levels:
            names = listing(map(shown_name, level.rooms))
            sentences.append(f"Level {number(level.level_m, 2, sign=True)} m: {names}.")
            sentences += [
                f"{shown_name(room)} does not close: {round(room.room.gap_m * 1000.0)} mm open."
                for room in level.rooms
                if not room.room.closes
            ]
        return " ".join((f"Plan of {self.title}.", self.standing, *sentences))

    @cached_property
    def _svg(self) -> str:
        text = plan_svg(self.levels, self.remarks, self.notes, self.alt_text)
        return text.replace("<title>", f"<!-- {MARKER} -->\n<title>", 1)

    def svg(self) -> bytes:
        """The plan as SVG, the errors listed below it.

        Returns
        -------
        bytes
            The file in UTF-8.

        Examples
        --------
        >>> import heatloop as hl
        >>> b"<svg" in hl.plan("data/mill-annexe/survey.toml").svg()
        True
        """
        return self._svg.encode("utf-8")

    def html(self, watched: str = "", stamp: str = "") -> str:
        """The plan as one self-contained page.

        Parameters
        ----------
        watched : str, optional
            Text shown above the plan. If it is not empty, the page shows each new plan as soon as the script of
            :meth:`news` is written beside it.
        stamp : str, optional
            A text that is different for each plan.

        Returns
        -------
        str

        Examples
        --------
        >>> import heatloop as hl
        >>> "<svg" in hl.plan("data/mill-annexe/survey.toml").html()
        True
        """
        body = Markup(self._body(watched))
        return rendered(
            PACKAGE, "plan.html", title=f"{self.title}: plan", marker=MARKER, body=body, stamp=stamp,
            watching=bool(watched),
        )  # fmt: skip

    def news(self, watched: str, stamp: str, ended: bool) -> str:
        """The script that replaces the plan on an open page of :meth:`html`, which loads it from time to time.

        Parameters
        ----------
        watched : str
            Text shown above the plan.
        stamp : str
            A text that is different for each plan; the page replaces its plan when it changes.
        ended : bool
            Whether this is the last plan, so that the page stops loading the script.

        Returns
        -------
        str
            The text of the script.

        Examples
        --------
        >>> import heatloop as hl
        >>> script = hl.plan("data/mill-annexe/survey.toml").news("Shown while saving.", "2", ended=False)
        >>> script.startswith("/* heatloop plan */")
        True
        """
        held = {"stamp": stamp, "title": f"{self.title}: plan", "body": self._body(watched), "ended": ended}
        text = json.dumps(held, ensure_ascii=True).replace("</", "<\\/")
        return f"/* {MARKER} */\nheatloopPlan({text});\n"

    def save(self, path: str | Path) -> Path:
        """Write the plan to a file and return its path.

        Parameters
        ----------
        path : str or pathlib.Path
            File to write: .svg for the picture, .html for the page.

        Returns
        -------
        pathlib.Path
            The path of the file.

        Raises
        ------
        InputError
            If the name has another ending.
        OSError
            If the file cannot be written.

        Examples
        --------
        >>> import heatloop as hl, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     hl.plan("data/mill-annexe/survey.toml").save(f"{folder}/plan.svg").name
        'plan.svg'
        """
        target = file_to_save(path, ".svg", ".html")
        write_whole(target, self.svg() if target.suffix == ".svg" else self.html())
        return target

    def _body(self, watched: str) -> str:
        named = [room for level in self.levels for room in level.rooms if room.numbered]
        levels = [
            {"name": number(level.level_m, 2, sign=True), "svg": Markup(level_svg(level, self._level_words(level)))}
            for level in self.levels
        ]
        return rendered(
            PACKAGE, "body.html", title=self.title, standing=self.standing, watched=watched, levels=levels, key=KEY,
            named=", ".join(f"[{picture.room.index + 1}] {shown_name(picture)}" for picture in named), notes=self.notes,
            remarks=self.remarks,
        )  # fmt: skip

    @staticmethod
    def _level_words(level: LevelPicture) -> str:
        return f"Plan of level {number(level.level_m, 2, sign=True)} m: {listing(map(shown_name, level.rooms))}"

    def _repr_html_(self) -> str:
        return f'<div class="scroll" tabindex="0">{self._svg}</div>'

    def __repr__(self) -> str:
        count = len(self.issues) + self.more
        faults = plural(count, "error") if count else "no errors"
        return f"<SurveyPlan: Plan of {self.title}: {plural(self.room_count, 'room')}, {faults}>"
