"""Wrong arguments of parts, price and first fix give one clear line each, never an error of Python itself."""

from collections.abc import Callable
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.handover.cutting.model import CuttingOptions, Offcut
from heatloop.handover.first_fix.model import FirstFixOptions
from heatloop.handover.first_fix.plan import plan_first_fix
from heatloop.handover.parts.model import PartsOptions
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.quotation import quotation_from
from heatloop.workflows.order import parts_list


@pytest.fixture(scope="module")
def design(alder_draft: hl.Design) -> hl.Design:
    return alder_draft


@pytest.fixture(scope="module")
def handover(design: hl.Design) -> PartsListResult:
    return design.parts()


def assert_reported(call: Callable[[], object], *lines: str) -> None:
    with pytest.raises(hl.InputError) as caught:
        call()
    found = str(caught.value).splitlines()
    assert len(found) == len(lines)
    for line, words in zip(found, lines, strict=True):
        assert words in line


@pytest.mark.parametrize("given", ["survey.toml", None, 3])
def test_parts_of_what_is_no_design(given: object) -> None:
    assert_reported(lambda: parts_list(given), "parts: design: found")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("options", "lines"),
    [
        ({"installation_temp_c": 1}, ["parts: options: found {'installation_temp_c': 1}; required: PartsOptions"]),
        (PartsOptions(installation_temp_c="ten"), ['parts list: installation_temp_c: found "ten"; required: -40 to']),  # type: ignore[arg-type]
        (PartsOptions(min_gap_mm=float("nan")), ["parts list: min_gap_mm: found nan; required: 0 to 100"]),
        (
            PartsOptions(offcuts="x", cutting=3),  # type: ignore[arg-type]
            [
                "parts list: cutting: found 3; required: CuttingOptions",
                'offcuts: found "x"; required: a tuple of Offcut',
            ],
        ),
        (PartsOptions(cutting=CuttingOptions(kerf_mm="x")), ["kerf_mm is 'x'; required: a finite number"]),  # type: ignore[arg-type]
        (PartsOptions(cutting=CuttingOptions(time_limit_s=None)), ["time_limit_s is None"]),  # type: ignore[arg-type]
        (PartsOptions(cutting=CuttingOptions(prefer=3)), ["prefer is 3; required: one of"]),  # type: ignore[arg-type]
        (PartsOptions(offcuts=(Offcut("K", "long"),)), ["offcut 'K', length_mm is 'long'"]),  # type: ignore[arg-type]
    ],
)
def test_options_of_parts(design: hl.Design, options: PartsOptions, lines: list[str]) -> None:
    assert_reported(lambda: design.parts(options), *lines)


def test_price_of_what_is_no_parts_list_or_by_no_file(
    design: hl.Design, handover: PartsListResult, tmp_path: Path
) -> None:
    assert_reported(lambda: quotation_from(design, "p.csv"), "price: handover: found <Design of")  # type: ignore[arg-type]
    assert_reported(lambda: handover.price(3), "price: prices: found 3; required: the path of a price file")  # type: ignore[arg-type]
    assert_reported(lambda: handover.price(tmp_path / "none.csv"), "none.csv: found no such file")
    assert_reported(lambda: handover.price(tmp_path), "found a folder; required: the path of a CSV file of prices")


@pytest.mark.parametrize(
    ("options", "line"),
    [
        (FirstFixOptions(pipe_allowance_m="x"), 'first fix: pipe_allowance_m: found "x"; required: 0 to 2'),  # type: ignore[arg-type]
        (FirstFixOptions(channel_heights_mm=3), "channel_heights_mm: found 3; required: heights"),  # type: ignore[arg-type]
        (FirstFixOptions(channel_heights_mm={"two-channel 140": "ab"}), 'found "ab"; required: 2 heights'),  # type: ignore[dict-item]
    ],
)
def test_options_of_first_fix(design: hl.Design, options: FirstFixOptions, line: str) -> None:
    assert_reported(lambda: plan_first_fix(design.survey, design.layout, options), line)
