"""A document as one complete page of HTML: title block, verdict, body, running heads on paper."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import resources

from markupsafe import Markup

from heatloop.findings.verdict import Verdict
from heatloop.report.control.control import DocumentControl
from heatloop.report.control.document_types import DOCUMENT_TYPES
from heatloop.report.control.references import references
from heatloop.report.control.title_block import DocumentSheet, running_line, title_block_css, title_block_html
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.text.formatting import VERDICT_MARKS, number
from heatloop.text.html import rendered, with_units_kept

DOCUMENTS = "heatloop.report.documents"
"""The package whose folder `templates` holds those of documents."""

LIMITS_MEANT = "Checked in the calculation: heat of the rooms, temperatures, flow rates, pressures and noise."
"""What the headline of the verdict refers to, for a client."""

TRUNK_MEANT = "trunk: pipes from the heat source to one or more loops"
"""What a trunk is, for a client."""

REFERENCE = re.compile("\x02([a-z0-9-]+)\x03")


@dataclass(frozen=True)
class DocumentPaper:
    """How a type of document is printed: its code and the way the A4 page lies."""

    code: str
    landscape: bool = False

    @property
    def title(self) -> str:
        """The title of the type of document."""
        return DOCUMENT_TYPES[self.code].title


@dataclass
class Numbering:
    """Numbers of tables and figures in order of appearance; references are resolved when all have appeared."""

    numbers: dict[str, str] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    titles: dict[str, Markup | str] = field(default_factory=dict)

    def caption(self, key: str, title: str, word: str = "Table") -> Markup:
        """The caption of a new table or figure, with its key as the anchor."""
        if key in self.numbers:
            raise ValueError(f"two tables or figures have the key {key}")
        self.counts[word] = self.counts.get(word, 0) + 1
        self.numbers[key] = f"{word} {self.counts[word]}"
        self.titles[key] = title
        return Markup('<span id="{}" class="number">{}</span>  {}').format(key, self.numbers[key], title)

    def table(self, key: str, title: str) -> Markup:
        """The caption of a new table."""
        return self.caption(f"table-{key}", title)

    def figure(self, key: str, title: str) -> Markup:
        """The caption of a new figure."""
        return self.caption(f"figure-{key}", title, "Figure")

    def ref(self, key: str) -> Markup:
        """A reference to a table or figure by its key, before or after it appears."""
        return Markup(f"\x02{key}\x03")

    def resolved(self, markup: str) -> str:
        """The markup with numbers in place of its references; KeyError for a key that nothing has."""
        return REFERENCE.sub(lambda match: f'<a href="#{match[1]}">{self.numbers[match[1]]}</a>', markup)


@dataclass(frozen=True)
class DocumentContent:
    """Content of the body of a document: a template of this package with its values.

    The template gets the numbering as `numbers`. warning: a sentence after the headline of a design that is not ready.
    """

    template: str
    values: Mapping[str, object]
    warning: str = ""


def document_page(
    paper: DocumentPaper,
    control: DocumentControl,
    verdict: Verdict | None,
    content: DocumentContent,
) -> str:
    """The page of one document; verdict: printed under the title block, None where the document prints it elsewhere."""
    return whole_page(paper, control, document_body(paper, control, verdict, content))


def document_body(
    paper: DocumentPaper,
    control: DocumentControl,
    verdict: Verdict | None,
    content: DocumentContent,
    numbers: Numbering | None = None,
) -> HtmlFragment:
    """Title block, verdict and body of one document, with numbers of its own for tables and figures.

    numbers: given where what follows the body goes on counting; the caller then resolves the references.
    """
    own, numbers = numbers is None, numbers or Numbering()
    values = {
        name: Markup(value.markup) if isinstance(value, HtmlFragment) else value
        for name, value in content.values.items()
    }
    body = rendered(
        DOCUMENTS,
        content.template,
        **values,
        control=control,
        numbers=numbers,
        bar=bar_text,
        number=printed,
        standing=verdict_line(verdict, control, content.warning),
    )
    whole = str(title_block_html(control, DocumentSheet(paper.code, of=0))) + body
    return HtmlFragment(numbers.resolved(whole) if own else whole)


def verdict_line(verdict: Verdict | None, control: DocumentControl, warning: str = "") -> Markup:
    """The verdict in its frame as documents print it, with the warning where the design is not ready.

    Whether the design is released for construction is stated once, in the title block.
    """
    if verdict is None:
        return Markup("")
    words = f"{control.headline} {warning}" if warning and verdict.fails else control.headline
    return Markup('<p class="standing {}">{} {}</p>').format(verdict.outcome, VERDICT_MARKS[verdict.outcome], words)


def whole_page(paper: DocumentPaper, control: DocumentControl, body: HtmlFragment, extra_css: str = "") -> str:
    """A page of its own round the bodies of one document or of several; `extra_css` after the common rules."""
    sheet = resources.files(DOCUMENTS).joinpath("document.css").read_text(encoding="utf-8")
    foot, see = running_line(control, DocumentSheet(paper.code)), references(control, paper.code)
    return rendered(
        DOCUMENTS,
        "document.html",
        css=Markup(sheet + title_block_css() + extra_css),
        size="A4 landscape" if paper.landscape else "A4 portrait",
        margins="10mm 12mm 14mm 12mm" if paper.landscape else "10mm 12mm 14mm 20mm",
        landscape=paper.landscape,
        title=f"{control.project}: {paper.title[0].lower()}{paper.title[1:]}",
        foot=foot,
        foot_css=Markup(css_string(foot)),
        see=see,
        see_css=Markup(css_string(see)),
        body=Markup(with_units_kept(body.markup)),
        version=control.version,
    )


def css_string(text: str) -> str:
    """Text as a string of a style sheet: everything but letters, digits and spaces is written as its code point."""
    return '"' + "".join(c if c.isalnum() or c == " " else f"\\{ord(c):x} " for c in text) + '"'


def bar_text(pressure_kpa: float, decimals: int = 2) -> str:
    """A pressure in bar, as gauges read it.

    >>> bar_text(147.0)
    '1.47'
    """
    return printed(pressure_kpa / 100.0, decimals)


def printed(value: float | None, decimals: int = 0, sign: bool = False) -> str:
    """A number as documents print it, with a minus sign in place of a hyphen.

    >>> printed(-3.0, 1)
    '−3.0'
    """
    return number(value, decimals, sign).replace("-", "−")
