"""Safety notices for installation and operation, printed with every design.

General good practice. The notices do not replace the local code, the makers' instructions or the judgement of licensed
persons.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class SafetyNotice:
    """One hazard and the measures against it."""

    title: str
    text: str

    @property
    def address(self) -> str:
        """Its anchor on a page.

        >>> SafetyNotice("Hot surfaces", "").address
        'caution-hot-surfaces'
        """
        return "caution-" + re.sub(r"[^a-z]+", "-", self.title.lower())


DEFERENCE = (
    "Local regulations, the makers' instructions and the judgement of licensed persons on site take "
    "precedence over this report. It is a calculation, not a permit or a certificate."
)

SAFETY_NOTICES: tuple[SafetyNotice, ...] = (
    SafetyNotice(
        "Hot surfaces",
        "Skirting and plain pipe are nearly as hot as the water, at a height where children crawl and "
        "beds touch the wall. Where vulnerable people live, keep the surfaces they can touch at 43 °C "
        "or below, by a lower flow temperature or by a guard. Keep cots, cables and soft plastics away.",
    ),
    SafetyNotice(
        "Scalding",
        "Before a vent, drain or joint is opened, let the water cool and release the pressure. Open "
        "vents slowly, with a cloth; turn your face away.",
    ),
    SafetyNotice(
        "Pressure",
        "A sealed system requires a relief valve of the right pressure, with its discharge piped to a "
        "safe place, and an expansion vessel of the right size and precharge. Test with water, not air, "
        "at a pressure that the weakest part and the local code allow. Isolate parts that are not "
        "rated for it. Do not lean over joints during the test.",
    ),
    SafetyNotice(
        "Chemicals",
        "Handle cleanser, inhibitor and antifreeze according to their safety data sheets: wear gloves "
        "and eye protection, and do not mix them. Dispose of used fluid where the local authority allows. "
        "Dosed heating water must not flow back into drinking water: fill through an approved backflow preventer.",
    ),
    SafetyNotice(
        "Drilling and cutting",
        "Cables, gas and water pipes run in walls and floors exactly where skirting is fixed, especially "
        "under sockets and beside doors. Locate services before every hole; if in doubt, switch "
        "them off. After installation the pipes of this system are there as well: do not drill into the "
        "skirting, the wall behind it or the floor in front of it.",
    ),
    SafetyNotice(
        "Asbestos, lead and timber",
        "Old floor tiles and their glue, boards behind skirting, pipe insulation and plaster may contain "
        "asbestos; old paint may contain lead. Have them tested before anything at floor level is "
        "lifted, cut or sanded; only licensed persons remove them. Notch and drill joists only where "
        "the building rules allow. Use no flame near timber, dust or cavities; watch for fire for an hour "
        "after soldering.",
    ),
    SafetyNotice(
        "Electricity",
        "Metal skirting and pipes conduct an electrical fault through the building. A qualified "
        "electrician does the protective bonding and all wiring of pumps, valves and controls, under "
        "the local wiring rules. Lay no cable in or behind warm skirting unless it is rated for that "
        "temperature.",
    ),
    SafetyNotice(
        "Gas, oil, refrigerant and flues",
        "Only licensed persons work on a boiler, a heat pump's refrigerant circuit, a fuel pipe or a "
        "flue. Do not run the heat source on a new system until it has been filled and "
        "vented according to the maker's instructions.",
    ),
    SafetyNotice(
        "Lifting and sharp edges",
        "Long lengths of profile are awkward to carry and their cut ends are sharp: carry them with two "
        "people and gloves, and deburr the ends.",
    ),
    SafetyNotice(
        "Freezing and leaks",
        "A filled loop in an unheated building freezes and bursts: heat it, drain it or use antifreeze. "
        "Inspect every joint, cold and hot, before it is covered.",
    ),
)


def notices_for(titles: Iterable[str]) -> tuple[SafetyNotice, ...]:
    """The notices of these titles, each once, in the order of `SAFETY_NOTICES`; KeyError for an unknown title."""
    chosen = set(titles)
    unknown = chosen - {caution.title for caution in SAFETY_NOTICES}
    if unknown:
        raise KeyError(f"no safety notice has the title {', '.join(map(repr, sorted(unknown)))}")
    return tuple(caution for caution in SAFETY_NOTICES if caution.title in chosen)


def notice_titles(cell: str) -> tuple[str, ...]:
    """The titles in a cell of a table, separated by semicolons.

    >>> notice_titles("Pressure; Scalding"), notice_titles("")
    (('Pressure', 'Scalding'), ())
    """
    return tuple(title for title in cell.split("; ") if title)
