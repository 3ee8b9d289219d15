"""Survey forms as one PDF at true scale, and as pictures in a notebook."""

from __future__ import annotations

import datetime as dt
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from heatloop.report.drawings.geometry import DrawingSheet
from heatloop.report.drawings.writers.sheet_pdf import write_sheets_pdf
from heatloop.report.drawings.writers.sheet_svg import sheet_svg
from heatloop.report.folders.file_names import file_to_save
from heatloop.text.files import write_whole
from heatloop.text.formatting import plural


@dataclass(frozen=True, eq=False)
class SurveyForms:
    """Survey forms on A4, one sheet for each room, from :func:`heatloop.form`.

    A notebook shows the sheets.

    Attributes
    ----------
    title : str
        Title of the PDF.
    made_on : datetime.date
        Date of the PDF.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.form(rooms=2)
    <SurveyForms: 2 sheets>
    """

    title: str
    made_on: dt.date
    sheets: tuple[DrawingSheet, ...] = field(repr=False)

    @property
    def alt_text(self) -> str:
        """Text alternative: the titles of the sheets.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.form(rooms=2).alt_text[:40]
        'Survey form, page 1 of 2; Survey form, p'
        """
        return "; ".join(sheet.alt_text for sheet in self.sheets)

    def pdf(self) -> bytes:
        """The sheets as one PDF, to be printed at 100 %.

        Returns
        -------
        bytes

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.form(rooms=2).pdf()[:5]
        b'%PDF-'
        """
        with tempfile.TemporaryDirectory(prefix="heatloop-form-") as folder:
            return write_sheets_pdf(Path(folder) / "forms.pdf", self.sheets, self.title, self.made_on).read_bytes()

    def save(self, path: str | Path) -> Path:
        """Write the sheets to a PDF and return its path.

        Parameters
        ----------
        path : str or pathlib.Path
            File to write; its name ends in .pdf.

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
        ...     hl.form(rooms=1).save(f"{folder}/forms.pdf").name
        'forms.pdf'
        """
        target = file_to_save(path, ".pdf")
        write_whole(target, self.pdf())
        return target

    def _repr_html_(self) -> str:
        return "".join(f'<div class="scroll" tabindex="0">{sheet_svg(sheet)}</div>' for sheet in self.sheets)

    def __repr__(self) -> str:
        return f"<SurveyForms: {plural(len(self.sheets), 'sheet')}>"
