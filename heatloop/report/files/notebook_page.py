"""A run notebook as one page that stands alone: no outside address, no script, code left out."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from html import escape
from importlib import resources

from heatloop.report.files.jupyter import NotebookNode, nbformat

# isort: split
# nbconvert loads nbformat too, which has to be imported first as it is there
from nbconvert import HTMLExporter, TemplateExporter
from nbconvert.filters.widgetsdatatypefilter import WidgetsDataTypeFilter
from traitlets.config import Config

NOTEBOOK_ONLY_TAG = "notebook-only"
READERS = {"for-client": "For the client", "for-fitter": "For the fitter", "for-checking": "For whoever checks it"}
NARROW = '<p class="narrow">Tap a picture to enlarge it; slide a wide table sideways.</p>'
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
    # the exporter's own method would read the finished page once more, for pictures without words: ours have them
    body, _ = TemplateExporter.from_notebook_node(exporter, shown)
    body, sections = _numbered(body)
    contents = _contents(sections, _readers(notebook))
    css = resources.files("heatloop.report.pages").joinpath("page.css").read_text(encoding="utf-8")
    return (
        '<!doctype html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
        "style-src 'unsafe-inline'\">\n"
        f"<title>{escape(title)}: heating design report</title>\n<style>\n{css}</style>\n</head>\n<body>\n"
        f'<header><p class="kind">Heating design report</p><h1>{escape(title)}</h1>'
        f'<p class="made">{made_on.day} {made_on:%B %Y}</p></header>\n{contents}\n<main>\n{body}\n</main>\n'
        f"<footer><p>Made by heatloop {escape(version)}. Figures hold for the survey and the assumptions "
        "printed here; change either and make the report again.</p></footer>\n</body>\n</html>\n"
    )


def _results_only(notebook: NotebookNode) -> NotebookNode:
    """A copy without what was written to the streams: warnings are for whoever runs the notebook."""
    copy = nbformat.from_dict(notebook)  # type: ignore[no-untyped-call]
    for cell in copy.cells:
        if cell.cell_type == "code":
            cell.outputs = [o for o in cell.outputs if o.output_type in ("display_data", "execute_result")]
    return copy  # type: ignore[no-any-return]


def _numbered(body: str) -> tuple[str, list[tuple[str, str]]]:
    """The body with an address of our own on every second-level heading, and those (address, words)."""
    sections: list[tuple[str, str]] = []

    def anchor(match: re.Match[str]) -> str:
        sections.append((f"section-{len(sections) + 1}", re.sub(r"<[^>]+>", "", match.group(1)).strip()))
        return f'<h2 id="{sections[-1][0]}">{match.group(1)}</h2>'

    return re.sub(r"<h2[^>]*>(.*?)</h2>", anchor, body, flags=re.DOTALL), sections


def _readers(notebook: NotebookNode) -> list[set[str]]:
    """For whom each section is, by the tags of the cells whose text begins with its heading."""
    heads = [c for c in notebook.cells if c.cell_type == "markdown" and c.source.startswith("## ")]
    tags = [set(cell.metadata.get("tags", [])) for cell in heads]
    return [found for found in tags if NOTEBOOK_ONLY_TAG not in found]


def _contents(sections: Sequence[tuple[str, str]], readers: Sequence[set[str]]) -> str:
    """All sections in order; where the notebook tells readers apart, for each the sections that are theirs."""
    if not any(readers):
        return f'<nav aria-label="Contents">{_links(sections)}</nav>'
    groups = [
        f"<dt>{words}</dt><dd>{_links([s for s, tags in zip(sections, readers, strict=True) if tag in tags])}</dd>"
        for tag, words in READERS.items()
    ]
    return f'<nav aria-label="Contents"><dl>{"".join(groups)}</dl>{NARROW}</nav>'


def _links(sections: Sequence[tuple[str, str]]) -> str:
    items = "".join(f'<li><a href="#{address}">{words}</a></li>' for address, words in sections)
    return f"<ol>{items}</ol>"
