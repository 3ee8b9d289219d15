"""Safety notices for installation and operation, printed with every design.

General good practice in our own words, no substitute for the local code, the makers' instructions or
the judgement of those licensed for the work.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class SafetyNotice:
    """One hazard and what to do about it."""

    title: str
    text: str

    @property
    def address(self) -> str:
        """Where it stands on a page.

        >>> SafetyNotice("Hot surfaces", "").address
        'caution-hot-surfaces'
        """
        return "caution-" + re.sub(r"[^a-z]+", "-", self.title.lower())


DEFERENCE = (
    "Local regulations, the instructions of the makers and the judgement of licensed people on site come "
    "before anything printed here. This report is a calculation, not a permit or a certificate."
)

CAUTIONS: tuple[SafetyNotice, ...] = (
    SafetyNotice(
        "Hot surfaces",
        "Skirting and plain pipe come close to the water temperature and stand where children crawl "
        "and beds are pushed against the wall. Where vulnerable people live, keep the surfaces they "
        "can touch at 43 °C or below, by the flow temperature or by a guard, and keep cots, cables "
        "and soft plastics clear.",
    ),
    SafetyNotice(
        "Scalding",
        "Let the water cool and the pressure fall before a vent, drain or joint is opened. Open vents "
        "slowly, with a cloth, face turned away.",
    ),
    SafetyNotice(
        "Pressure",
        "A sealed system needs a safety valve of the right pressure, its discharge piped to a safe "
        "place, and an expansion vessel of the right size and charge. Test with water, not air, at "
        "the pressure that the weakest part and the local code allow, with parts that cannot take it "
        "shut off, and nobody leaning over joints.",
    ),
    SafetyNotice(
        "Chemicals",
        "Cleaner, inhibitor and antifreeze are to be handled as their safety data sheets say: gloves, "
        "eye protection, no mixing. Spent fluid goes where the local authority allows. A heating "
        "circuit that has been dosed must not be able to run back into drinking water: fill through "
        "an approved backflow protection.",
    ),
    SafetyNotice(
        "Drilling and cutting",
        "Cables, gas and water pipes run in walls and floors just where skirting is fixed, most of "
        "all under sockets and beside doors. Locate services before every hole and switch off where "
        "in doubt. Afterwards the pipes of this system lie there too: drill nothing into the skirting, "
        "the wall behind it or the floor before it.",
    ),
    SafetyNotice(
        "Asbestos, lead and timber",
        "Old floor tiles and their glue, boards behind skirting, pipe lagging and plaster may hold "
        "asbestos, old paint lead: have them tested before anything at floor level is lifted, cut or "
        "sanded, and left to those licensed for it. Notch and drill joists only where the building "
        "rules allow. No flame near timber, dust or cavities; keep a watch for an hour after soldering.",
    ),
    SafetyNotice(
        "Electricity",
        "Metal skirting and pipes can carry a fault through the building. Protective bonding, and all "
        "wiring of pumps, valves and controls, are for a qualified electrician under the local wiring "
        "rules. Lay no cable in or behind warm skirting that is not rated for it.",
    ),
    SafetyNotice(
        "Gas, oil, refrigerant and flues",
        "Work on a boiler, a heat pump's refrigerant circuit, a fuel pipe or a flue is for those "
        "licensed for it. Do not run the source on a new system until it has been filled, vented and "
        "commissioned as its maker says.",
    ),
    SafetyNotice(
        "Lifting and sharp edges",
        "Long lengths of profile are awkward in pairs of hands and their cut ends are sharp: two "
        "people, gloves, deburred ends.",
    ),
    SafetyNotice(
        "Freezing and leaks",
        "A filled loop in an unheated building bursts in frost: heat it, drain it or protect it. "
        "Watch every joint, cold and hot, before it is covered.",
    ),
)


def cautions_for(titles: Iterable[str]) -> tuple[SafetyNotice, ...]:
    """The cautions of these titles, each once, in the order of `CAUTIONS`; KeyError for a title that is none."""
    chosen = set(titles)
    unknown = chosen - {caution.title for caution in CAUTIONS}
    if unknown:
        raise KeyError(f"no caution is called {', '.join(map(repr, sorted(unknown)))}")
    return tuple(caution for caution in CAUTIONS if caution.title in chosen)


def notice_titles(cell: str) -> tuple[str, ...]:
    """The titles that a cell of a table names, written with semicolons between.

    >>> notice_titles("Pressure; Scalding"), notice_titles("")
    (('Pressure', 'Scalding'), ())
    """
    return tuple(title for title in cell.split("; ") if title)
