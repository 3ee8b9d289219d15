"""A run notebook as one complete page: no outside address, no script, code left out."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from html import escape
from importlib import resources

from markupsafe import Markup

from heatloop.report.notebook.jupyter import NotebookNode, nbformat

# isort: split
# nbconvert loads nbformat too, which has to be imported first as it is there
from nbconvert import HTMLExporter, TemplateExporter
from nbconvert.filters.widgetsdatatypefilter import WidgetsDataTypeFilter
from traitlets.config import Config

from heatloop.report.documents.document import Numbering
from heatloop.report.pages.html_tables import HtmlFragment, part
from heatloop.text.formatting import with_minus_signs
from heatloop.text.html import with_units_kept

NOTEBOOK_ONLY_TAG = "notebook-only"


@dataclass(frozen=True)
class FrontPage:
    """Page before the sections of the notebook, with its style and the footer of all pages.

    with_list: whether a list of tables and figures is the last section.
    """

    body: HtmlFragment
    css: str
    foot: str
    with_list: bool = True


def page_html(
    notebook: NotebookNode,
    title: str,
    version: str,
    made_on: dt.date,
    front: FrontPage | None = None,
    numbers: Numbering | None = None,
) -> str:
    """The page: the notebook's text and results under a heading, contents, and print rules for A4.

    title is plain text and may hold anything. With a front page that is first, in place of the heading; tables
    and figures go on counting from `numbers`.
    """
    exporter = HTMLExporter(  # type: ignore[no-untyped-call]
        template_name="basic",
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
        config=Config(TagRemovePreprocessor={"enabled": True, "remove_cell_tags": {NOTEBOOK_ONLY_TAG}}),
    )
    pictures: list[str] = []
    shown = _results_only(notebook, pictures)
    kinds = WidgetsDataTypeFilter(notebook_metadata=shown.metadata, parent=exporter)  # type: ignore[no-untyped-call]
    exporter.register_filter("filter_data_type", kinds)  # type: ignore[no-untyped-call]
    exporter.register_filter("highlight_code", escape)  # type: ignore[no-untyped-call]
    # the exporter's own method would search the page again for figures without alternative text
    body, _ = TemplateExporter.from_notebook_node(exporter, shown)
    body, sections = _numbered(body)
    numbers = numbers or Numbering()
    body = numbered_captions(REPEATED.sub(r"\g<section>", body), numbers)
    if front is not None and front.with_list:
        sections.append(PageSection("tables-and-figures", Markup("Tables and figures")))
        heading = Markup('<h2 id="{}">{}</h2>').format(sections[-1].address, sections[-1].words)
        body += str(heading + list_of_captions(numbers))
    first = HtmlFragment("") if front is None else HtmlFragment(with_units_kept(numbers.resolved(front.body.markup)))
    css = resources.files("heatloop.report.pages").joinpath("page.css").read_text(encoding="utf-8")
    page = part(
        "page.html",
        css=Markup(css if front is None else css + front.css),
        front=first,
        foot="" if front is None else front.foot,
        title=title,
        made_on=made_on,
        sections=sections,
        body=Markup(with_units_kept(body)),
        version=version,
    ).markup
    return PLACE_OF_PICTURE.sub(lambda place: pictures[int(place[1])], page)


@dataclass(frozen=True)
class PageSection:
    """A section of the page: its address in it, and the words of its heading as markup."""

    address: str
    words: Markup


PICTURE = re.compile(r'(?<= src=")data:[^"]*(?=")')
PLACE_OF_PICTURE = re.compile(r'(?<= src=")picture-([0-9]+)(?=")')
"""A picture within its tag, and what stands for it while the page is made: pictures are nearly all of its length."""


def _results_only(notebook: NotebookNode, pictures: list[str]) -> NotebookNode:
    """A copy without what was written to the streams: warnings are for whoever runs the notebook.

    `pictures` receives the pictures, each of which is represented by its place in this list.
    """

    def kept(picture: re.Match[str]) -> str:
        pictures.append(picture[0])
        return f"picture-{len(pictures) - 1}"

    copy = nbformat.from_dict(notebook)  # type: ignore[no-untyped-call]
    for cell in copy.cells:
        if cell.cell_type == "code":
            cell.outputs = [o for o in cell.outputs if o.output_type in ("display_data", "execute_result")]
            for output in cell.outputs:
                if "text/html" in output.data:
                    output.data["text/html"] = PICTURE.sub(kept, output.data["text/html"])
    return copy  # type: ignore[no-any-return]


REPEATED = re.compile(
    r"(?P<section><h2[^>]*>(?P<words>[^<]*)</h2>(?:(?!<h[1-3]).)*)<h3[^>]*>(?P=words)</h3>", re.DOTALL
)
"""A heading of the third level that repeats the one of its section."""


def _numbered(body: str) -> tuple[str, list[PageSection]]:
    """The body with an address of our own on every second-level heading, and those sections."""
    sections: list[PageSection] = []

    def anchor(match: re.Match[str]) -> str:
        words = Markup(re.sub(r"<[^>]+>", "", match.group(1)).strip())
        sections.append(PageSection(f"section-{len(sections) + 1}", words))
        return f'<h2 id="{sections[-1].address}">{match.group(1)}</h2>'

    return re.sub(r"<h2[^>]*>(.*?)</h2>", anchor, body, flags=re.DOTALL), sections


def numbered_captions(body: str, numbers: Numbering) -> str:
    """The body with a number before the caption of every table and a caption below every figure.

    A figure without a caption of its own takes the first sentence of its text alternative.
    """

    def caption(match: re.Match[str]) -> str:
        if match["table"] is not None:
            words = Markup(with_minus_signs(match["table"]))
            return f"<caption>{numbers.table(_key(words, numbers, 'table'), words)}</caption>"
        inside, own = match["inside"], match["own"] or ""
        words = Markup(own or _first_sentence(match["alt"]))
        return (
            f"<figure>{inside}<figcaption>{numbers.figure(_key(words, numbers, 'figure'), words)}</figcaption></figure>"
        )

    return CAPTIONED.sub(caption, body)


CAPTIONED = re.compile(
    r"<caption[^>]*>(?P<table>.*?)</caption>"
    r'|<figure>(?P<inside><div[^>]*><img alt="(?P<alt>[^"]*)" src="[^"]*"[^>]*></div>)'
    r"(?:<figcaption>(?P<own>.*?)</figcaption>)?</figure>",
    re.DOTALL,
)


LONG_CAPTION = 160


def _first_sentence(alt: str) -> str:
    """The first sentence; of one that lists more than fits two lines, what is before the list."""
    first = alt.partition(". ")[0].rstrip(".")
    return first if len(first) <= LONG_CAPTION else first.partition(": ")[0]


def list_of_captions(numbers: Numbering) -> Markup:
    """Tables, then figures, each with its number as a link to it and the first part of its caption."""
    entries = [
        Markup('<li><a href="#{}">{}</a> {}</li>').format(key, number, short_name(numbers.titles[key]))
        for kind in ("Table", "Figure")
        for key, number in numbers.numbers.items()
        if number.startswith(kind)
    ]
    return Markup('<ul class="list">{}</ul>').format(Markup("").join(entries))


def short_name(caption: Markup | str) -> str:
    """What is before the first colon, semicolon, full stop or bracket of a caption.

    >>> short_name("Level 0.00 m; coverage."), short_name(Markup("Pressure &amp; head: all loops"))
    ('Level 0.00 m', 'Pressure & head')
    """
    words = caption.striptags() if isinstance(caption, Markup) else caption
    return re.split(r"[:;.](?:\s|$)| \(", words, maxsplit=1)[0]


def _key(words: str, numbers: Numbering, kind: str) -> str:
    """A key of its own from the words of a caption."""
    plain = re.sub(r"&[^;]+;|<[^>]+>", " ", words).lower()
    key = "-".join(re.findall(r"[a-z0-9]+", plain)[:6]) or kind
    place, unused = 1, key
    while f"{kind}-{unused}" in numbers.numbers:
        place += 1
        unused = f"{key}-{place}"
    return unused
