"""A run notebook as one page that stands alone: no outside address, no script, code left out."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
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

from heatloop.report.pages.html_tables import part

NOTEBOOK_ONLY_TAG = "notebook-only"
READERS = {"for-client": "For the client", "for-fitter": "For the fitter", "for-checking": "For the checking engineer"}
"""Tags of the cells that begin a section, and the readers they stand for in the contents."""


def page_html(notebook: NotebookNode, title: str, version: str, made_on: dt.date) -> str:
    """The page: the notebook's text and results under a heading, contents, and print rules for A4.

    title is plain text and may hold anything.
    """
    exporter = HTMLExporter(  # type: ignore[no-untyped-call]
        template_name="basic",
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
        config=Config(TagRemovePreprocessor={"enabled": True, "remove_cell_tags": {NOTEBOOK_ONLY_TAG}}),
    )
    shown = _results_only(notebook)
    kinds = WidgetsDataTypeFilter(notebook_metadata=shown.metadata, parent=exporter)  # type: ignore[no-untyped-call]
    exporter.register_filter("filter_data_type", kinds)  # type: ignore[no-untyped-call]
    exporter.register_filter("highlight_code", escape)  # type: ignore[no-untyped-call]
    # the exporter's own method would search the page again for figures without alternative text
    body, _ = TemplateExporter.from_notebook_node(exporter, shown)
    body, sections = _numbered(body)
    css = resources.files("heatloop.report.pages").joinpath("page.css").read_text(encoding="utf-8")
    return part(
        "page.html",
        css=Markup(css),
        title=title,
        made_on=made_on,
        sections=sections,
        groups=_by_reader(sections, _readers(notebook)),
        body=Markup(body),
        version=version,
    ).markup


@dataclass(frozen=True)
class PageSection:
    """A section of the page: its address in it, and the words of its heading as markup."""

    address: str
    words: Markup


def _results_only(notebook: NotebookNode) -> NotebookNode:
    """A copy without what was written to the streams: warnings are for whoever runs the notebook."""
    copy = nbformat.from_dict(notebook)  # type: ignore[no-untyped-call]
    for cell in copy.cells:
        if cell.cell_type == "code":
            cell.outputs = [o for o in cell.outputs if o.output_type in ("display_data", "execute_result")]
    return copy  # type: ignore[no-any-return]


def _numbered(body: str) -> tuple[str, list[PageSection]]:
    """The body with an address of our own on every second-level heading, and those sections."""
    sections: list[PageSection] = []

    def anchor(match: re.Match[str]) -> str:
        words = Markup(re.sub(r"<[^>]+>", "", match.group(1)).strip())
        sections.append(PageSection(f"section-{len(sections) + 1}", words))
        return f'<h2 id="{sections[-1].address}">{match.group(1)}</h2>'

    return re.sub(r"<h2[^>]*>(.*?)</h2>", anchor, body, flags=re.DOTALL), sections


def _readers(notebook: NotebookNode) -> list[set[str]]:
    """For whom each section is, by the tags of the cells whose text begins with its heading."""
    heads = [c for c in notebook.cells if c.cell_type == "markdown" and c.source.startswith("## ")]
    tags = [set(cell.metadata.get("tags", [])) for cell in heads]
    return [found for found in tags if NOTEBOOK_ONLY_TAG not in found]


def _by_reader(sections: Sequence[PageSection], readers: Sequence[set[str]]) -> list[tuple[str, list[PageSection]]]:
    """For each reader in words the sections that are theirs; nothing where the notebook does not name its readers."""
    if not any(readers):
        return []
    return [
        (words, [section for section, tags in zip(sections, readers, strict=True) if tag in tags])
        for tag, words in READERS.items()
    ]
