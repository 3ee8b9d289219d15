"""First-fix sheets of many random plans: nothing touches, every pipe is there once."""

from __future__ import annotations

import argparse
import datetime as dt

from heatloop.handover.first_fix.plan import plan_first_fix
from heatloop.layout.build import build_layout
from heatloop.report.control.control import document_control
from heatloop.report.drawings.first_fix_sheets import first_fix_sheets
from tests.helpers.random_systems import random_survey
from tests.helpers.sheet_faults import sheet_faults, straight_faults
from tests.long.records import write_record

DAY = dt.date(2026, 11, 29)


def drawings(arguments: list[str]) -> int:
    """Sheets of random plans; 1 where a text touches another or a pipe is missing."""
    parser = argparse.ArgumentParser("python -m tests.long drawings")
    parser.add_argument("--plans", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args(arguments)
    faults, count, pipes, lists = [], 0, 0, 0
    for seed in range(asked.seed, asked.seed + asked.plans):
        survey = random_survey(seed)
        fix = plan_first_fix(survey, build_layout(survey))
        sheets = first_fix_sheets(fix, document_control(survey, None, made_on=DAY))
        found = [*sheet_faults(fix, sheets), *straight_faults(survey, fix)]
        faults += [f"seed {seed}, {fault}" for fault in found]
        count += len(sheets)
        pipes += sum(len(position.pipes) for position in fix.positions)
        lists += sum(sheet.window is None for sheet in sheets)
    for fault in faults:
        print(fault)
    if not faults:
        write_record(
            "drawings",
            {"plans": asked.plans, "seed": asked.seed, "sheets": count, "without_plan": lists, "pipes": pipes},
        )
    return 1 if faults else 0
