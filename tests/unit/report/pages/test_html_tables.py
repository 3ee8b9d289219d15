"""Tables of pages: escaped names, headers with their scope, rows that can be chosen, none at all."""

from __future__ import annotations

import pandas as pd

import heatloop as hl
from heatloop.report.columns.registry import table_description
from heatloop.report.pages.html_tables import html_table, summary_table


def test_tables_escape_names_and_scope_their_headers() -> None:
    frame = pd.DataFrame({"room": ["<script>alert(1)</script>"], "heat_loss_w": [912.4], "loss_source": [""]})
    markup = html_table(frame, "rooms", caption="Rooms & halls").markup
    assert "<script" not in markup
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in markup
    assert "<caption>Rooms &amp; halls</caption>" in markup
    assert 'Heat loss, <span class="unit">W</span>' in markup
    assert ">912<" in markup
    assert markup.count('scope="col"') == 2, "a column without a word in it is left out"
    assert markup.count('scope="row"') == 1


def test_an_empty_table_says_so() -> None:
    assert "nothing to list" in html_table(pd.DataFrame(columns=["room", "heat_loss_w"]), "rooms").markup


def test_summary_rows_can_be_chosen(design: hl.Design) -> None:
    markup = summary_table(design.summary, ("pump_flow_l_h",)).markup
    assert "Pump flow" in markup
    assert "Heat loss" not in markup


def test_a_table_nobody_described_still_reads() -> None:
    frame = pd.DataFrame({"part": ["end"], "cut_length_m": [1.234]})
    markup = html_table(frame, "parts_to_come").markup
    assert table_description("parts_to_come").title == "Parts to come"
    assert "Cut length" in markup
    assert "1.23" in markup


def test_a_missing_figure_of_the_summary_is_left_out(design: hl.Design) -> None:
    assert design.summary["pump_flow_water_only_l_h"] is None
    assert "plain water" not in summary_table(design.summary).markup
