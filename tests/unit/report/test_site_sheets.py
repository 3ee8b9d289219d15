"""Every section of the commissioning documents has its place in the report and on the printed sheet."""

from heatloop.handover.commissioning.pack import SECTIONS
from heatloop.report.documents.site_sheets import LEAVES
from heatloop.report.pages.sections import HANDOVER, SITE_WORK


def test_every_section_is_in_the_report_and_on_the_sheet_once():
    tables = sorted(section.table for section in SECTIONS)
    assert sorted([*SITE_WORK, *HANDOVER]) == tables
    assert sorted(table for leaf in LEAVES for table in leaf) == tables
