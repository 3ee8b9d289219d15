"""A run notebook as one page that stands alone: no outside address, no script, code left out."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from html import escape
from importlib import resources

from heatloop.report.jupyter import Config, HTMLExporter, NotebookNode, nbformat

NOTEBOOK_ONLY_TAG = "notebook-only"


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
    body, _ = exporter.from_notebook_node(_results_only(notebook))
    body, sections = _numbered(body)
    css = resources.files("heatloop.report").joinpath("page.css").read_text(encoding="utf-8")
    return (
        '<!doctype html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
        "style-src 'unsafe-inline'\">\n"
        f"<title>{escape(title)}: heating design report</title>\n<style>\n{css}</style>\n</head>\n<body>\n"
        f'<header><p class="kind">Heating design report</p><h1>{escape(title)}</h1>'
        f'<p class="made">{made_on.day} {made_on:%B %Y}</p></header>\n{_contents(sections)}\n<main>\n{body}\n</main>\n'
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


def _contents(sections: Sequence[tuple[str, str]]) -> str:
    items = "".join(f'<li><a href="#{address}">{words}</a></li>' for address, words in sections)
    return f'<nav aria-label="Contents"><ol>{items}</ol></nav>'
