"""A document as one page of HTML that stands alone: title block, verdict, body, running heads on paper."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import resources

from markupsafe import Markup

from heatloop.findings.verdict import Verdict
from heatloop.report.documents.title_block import DocumentControl, title_fields
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.text.formatting import number
from heatloop.text.html import rendered

DOCUMENTS = "heatloop.report.documents"
"""The package whose folder `templates` holds those of documents."""

REFERENCE = re.compile("\x02([a-z0-9-]+)\x03")


@dataclass(frozen=True)
class DocumentType:
    """One kind of document: its code, title, words of its file name, folder by reader, and the paper."""

    code: str
    title: str
    words: str
    folder: str
    landscape: bool = False


@dataclass
class Numbering:
    """Numbers of tables and figures in order of appearance; references are resolved when all have appeared."""

    found: dict[str, str] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)

    def caption(self, key: str, title: str, word: str = "Table") -> Markup:
        """The caption of a new table or figure, with its key as the anchor."""
        if key in self.found:
            raise ValueError(f"two tables or figures have the key {key}")
        self.counts[word] = self.counts.get(word, 0) + 1
        self.found[key] = f"{word} {self.counts[word]}"
        return Markup('<span id="{}" class="number">{}</span>  {}').format(key, self.found[key], title)

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
        return REFERENCE.sub(lambda match: f'<a href="#{match[1]}">{self.found[match[1]]}</a>', markup)


def identification_of(control: DocumentControl, kind: DocumentType) -> str:
    """Identification of a document: job, type and number."""
    return f"{control.job or control.project}-{kind.code}-01"


def document_page(
    kind: DocumentType,
    control: DocumentControl,
    verdict: Verdict | None,
    template: str,
    values: Mapping[str, object],
    css: str = "",
    warning: str = "",
) -> str:
    """The page of one document: its body is a template of this package with `values` and the numbering as `numbers`.

    verdict: printed under the title block, None where the document prints it elsewhere; css: rules of this document
    after the common ones; warning: a sentence after the headline of a design that is not ready.
    """
    body = document_body(kind, control, verdict, template, values, warning)
    return whole_page(kind, control, body, css)


def document_body(
    kind: DocumentType,
    control: DocumentControl,
    verdict: Verdict | None,
    template: str,
    values: Mapping[str, object],
    warning: str = "",
) -> HtmlFragment:
    """Title block, verdict and body of one document, with numbers of its own for tables and figures."""
    numbers = Numbering()
    fragments = {name: Markup(one.markup) if isinstance(one, HtmlFragment) else one for name, one in values.items()}
    body = rendered(DOCUMENTS, template, **fragments, control=control, numbers=numbers, bar=bar_text, number=printed)
    identification = identification_of(control, kind)
    head = rendered(
        DOCUMENTS,
        "head.html",
        fields=title_fields(
            control, f"{control.project}: {kind.title[0].lower()}{kind.title[1:]}", kind.title, identification
        ),
        verdict=verdict,
        warning=warning,
    )
    return HtmlFragment(numbers.resolved(head + body))


def whole_page(kind: DocumentType, control: DocumentControl, body: HtmlFragment, css: str = "") -> str:
    """A page of its own round the bodies of one document or of several."""
    sheet = resources.files(DOCUMENTS).joinpath("document.css").read_text(encoding="utf-8")
    foot = foot_line(kind, control)
    return rendered(
        DOCUMENTS,
        "document.html",
        css=Markup(sheet + css),
        size="A4 landscape" if kind.landscape else "A4 portrait",
        margins="10mm 12mm 14mm 12mm" if kind.landscape else "10mm 12mm 14mm 20mm",
        landscape=kind.landscape,
        title=title_of(kind, control),
        foot=foot,
        foot_css=Markup(css_string(foot)),
        body=Markup(body.markup),
        version=control.version,
    )


def title_of(kind: DocumentType, control: DocumentControl) -> str:
    """The title of a document: the project and what it is."""
    return f"{control.project}: {kind.title[0].lower()}{kind.title[1:]}"


def foot_line(kind: DocumentType, control: DocumentControl) -> str:
    """The line at the foot of every page."""
    revision = f"revision {control.revision}" if control.revision else ""
    given = (
        identification_of(control, kind), control.project, kind.title.lower(), revision, control.status,
        f"input {control.input_hash}" if control.input_hash else "",
    )  # fmt: skip
    return " · ".join(filter(None, given))


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
