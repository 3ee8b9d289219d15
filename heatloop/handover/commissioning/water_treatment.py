"""Water treatment: cleaning and flushing by volume, doses, rules for the wetted metals, the filter and the label.

No particular product is required: doses are those of the label, as copied in the survey. The rules are rows of
`treatment_rules.toml` with their sources; a caller may pass rules of its own. The instructions of the makers of source,
profile and additive take precedence."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from importlib import resources
from pathlib import Path
from string import Formatter
from typing import Any, Literal, get_args

import pandas as pd

from heatloop.findings.limits import YES_OR_NO, CheckResult, Limit, check_at_least
from heatloop.physics.pressurisation import dose_l
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Additive
from heatloop.text.column import TableDescription, count_column, number_column, text_column
from heatloop.text.formatting import listing
from heatloop.text.table_set import table_frame

BS_7593 = "BS 7593:2019 as summarised in the trade"
PRACTICE = "common practice"
PH_ALUMINIUM, PH_OTHER = (7.0, 8.5), (7.0, 10.0)
PH_SOURCE = (
    "oxide of bare aluminium holds to about 8.5, common practice; VDI 2035 gives 8.2 to 9.0, from memory; the "
    "inhibitor's data sheet goes before both"
)

ALUMINIUM, COPPER = "aluminium", "copper"
TREATMENT = TableDescription(
    "treatment",
    "Water treatment",
    "Clean, flush, protect, label, in this order.",
    (
        count_column("step", "Step"),
        text_column("stage", "Stage"),
        text_column("what", "What to do"),
        number_column("quantity_l", "Quantity", "l", 2, "water to flush with, or additive"),
        text_column("safety_notices", "Safety notices", "titles of the safety notices for this row"),
        text_column("source", "Source"),
    ),
)

DOSES = TableDescription(
    "doses",
    "Doses",
    "Dose of each additive as its label states, which is entered in the survey.",
    (
        text_column("use", "Use"),
        text_column("name", "Name"),
        number_column("water_content_l", "Water content", "l", 1),
        number_column("dose_percent", "Of the content", "%", 2),
        number_column("dose_ml_per_l", "Per litre", "ml/l", 1),
        number_column("dose_l", "Dose", "l", 2),
        count_column("containers", "Containers"),
        text_column("source", "Source"),
    ),
)

SOFTENED = Limit(
    "fill water suitable for bare aluminium", YES_OR_NO, f"{PRACTICE}; {BS_7593}",
    "fill with plain mains water: base-exchange softened water turns alkaline when heated and attacks aluminium; or "
    "state that the makers of profile and inhibitor allow it",
)  # fmt: skip
INHIBITOR = Limit(
    "inhibitor suitable for mixed metals", YES_OR_NO, f"{PRACTICE}; {BS_7593}",
    "choose an inhibitor whose maker permits it for aluminium together with the other metals, and enter it", "caution",
)  # fmt: skip
FILTER = Limit(
    "pipe size at the filter", "mm", PRACTICE,
    "put the filter where the pipe is larger, or enlarge the last pipe before the source", "caution",
)  # fmt: skip


@dataclass(frozen=True)
class TreatmentInputs:
    """Data that determine the applicable rules.

    Metals in contact with the water, whether copper is assumed, quantities in litres, the range of pH and its source.
    """

    survey: SurveyData
    content_l: float
    metals: tuple[str, ...]
    copper_assumed: bool
    ph: tuple[float, float]
    ph_source: str

    @property
    def aluminium(self) -> bool:
        return ALUMINIUM in self.metals

    @property
    def mixed(self) -> bool:
        return self.aluminium and any(metal not in (ALUMINIUM, "plastic") for metal in self.metals)

    @property
    def old_system(self) -> bool:
        """True for existing parts: as the survey states, else if it has an existing emitter."""
        stated = self.survey.system.old_system
        return any(item.existing for loop in self.survey.loops for item in loop.emitters) if stated is None else stated

    @property
    def conditions(self) -> frozenset[str]:
        """Conditions of rules that apply here."""
        water_system = self.survey.system
        allowed = water_system.softened_fill and water_system.softened_fill_allowed
        held = {
            "old system": self.old_system,
            "new system": not self.old_system,
            "aluminium": self.aluminium,
            "mixed metals": self.mixed,
            "antifreeze": self.survey.project.antifreeze is not None,
            "softened water allowed": allowed,
            "softened water refused": not water_system.softened_fill_allowed,
        }
        return frozenset(word for word, holds in held.items() if holds)

    def amount_l(self, amount: str) -> float:
        """Litres of one flush, or of the dose of an additive; NaN for neither, or where no additive is entered."""
        water_system = self.survey.system
        match amount:
            case "flush":
                return water_system.flush_volumes * self.content_l
            case "cleanser":
                return additive_volume_l(water_system.cleanser, self.content_l)
            case "inhibitor":
                return additive_volume_l(water_system.inhibitor, self.content_l)
            case "antifreeze":
                glycol = self.survey.project.antifreeze
                if glycol is not None and glycol.percent_by_volume is not None:
                    return dose_l(self.content_l, glycol.percent_by_volume)
        return math.nan


Condition = Literal[
    "old system", "new system", "aluminium", "mixed metals", "antifreeze", "softened water refused",
    "softened water allowed",
]  # fmt: skip
Amount = Literal["", "flush", "cleanser", "inhibitor", "antifreeze"]
STEPS_FILE = "treatment_rules.toml"
FILLED_IN = ("metals", "ph", "ph_source", "minutes", "filter_mm", "cleanser", "inhibitor", "antifreeze")


@dataclass(frozen=True)
class TreatmentRule:
    """One line of the treatment.

    Its stage, the action, the conditions (all of `when`), the quantity in litres, the titles of its safety notices, and
    its source. See `treatment_rules.toml`.
    """

    stage: str
    what: str
    when: tuple[Condition, ...] = ()
    amount: Amount = ""
    caution: tuple[str, ...] = ()
    source: str = "common practice"


def load_rules(path: Path | None = None) -> tuple[TreatmentRule, ...]:
    """Rules of a TOML file; default: those of the package.

    Raises ValueError, one line, for a row that does not follow the format stated in that file; OSError where it cannot
    be read.
    """
    own = resources.files("heatloop.handover.commissioning").joinpath(STEPS_FILE)
    text = own.read_text(encoding="utf-8") if path is None else path.read_text(encoding="utf-8")
    rows = tomllib.loads(text).get("rule", [])
    return tuple(_rule(number, row) for number, row in enumerate(rows, start=1))


def _names(row: dict[str, Any]) -> Iterator[str]:
    """Names in braces in the texts of a row."""
    for key in ("what", "source"):
        if isinstance(row.get(key), str):
            yield from (name for _, name, _, _ in Formatter().parse(row[key]) if name is not None)


def _rule(number: int, row: dict[str, Any]) -> TreatmentRule:
    known = {field.name for field in fields(TreatmentRule)}
    wrong = [
        *(key for key in row if key not in known),
        *(key for key in ("stage", "what") if not isinstance(row.get(key), str)),
        *(word for word in row.get("when", ()) if word not in get_args(Condition)),
        *(word for word in (row.get("amount", ""),) if word not in get_args(Amount)),
        *(f"{{{name}}}" for name in _names(row) if name not in FILLED_IN),
    ]
    if wrong:
        raise ValueError(
            f"rule {number}: found {', '.join(map(repr, wrong))}, required the keys {', '.join(sorted(known))} with "
            f"the words that {STEPS_FILE} lists"
        )
    return TreatmentRule(**{**row, "when": tuple(row.get("when", ())), "caution": tuple(row.get("caution", ()))})


def treatment_inputs(survey: SurveyData, content_l: float) -> TreatmentInputs:
    """Data of a survey for the rules, with a water content in litres."""
    profiles = (profile.wetted_metal for profile in survey.profiles)
    others = survey.system.metals or (COPPER,)
    metals = tuple(dict.fromkeys((*profiles, *others)))
    by_metal = PH_ALUMINIUM if ALUMINIUM in metals else PH_OTHER
    ph = survey.system.ph
    source = PH_SOURCE if ALUMINIUM in metals else PRACTICE
    return TreatmentInputs(
        survey, content_l, metals, not survey.system.metals, ph or by_metal, "survey" if ph is not None else source
    )


def additive_volume_l(additive: Additive | None, content_l: float) -> float:
    """Litres of an additive for a content in litres, by its label: per cent of the content, or ml per litre.

    NaN where there is none. Source: the label, as copied in the survey.
    """
    if additive is None:
        return math.nan
    if additive.per_cent is not None:
        return dose_l(content_l, additive.per_cent)
    return math.nan if additive.dose_ml_per_l is None else content_l * additive.dose_ml_per_l / 1000.0


def applicable_rules(
    inputs: TreatmentInputs, rules: Sequence[TreatmentRule] | None = None
) -> tuple[TreatmentRule, ...]:
    """Rules for this system in the order of the work, with names and figures inserted.

    The default is the rules of the package.
    """
    chosen = load_rules() if rules is None else rules
    held = inputs.conditions
    return tuple(
        replace(rule, what=_filled(rule.what, inputs), source=_filled(rule.source, inputs))
        for rule in chosen
        if held.issuperset(rule.when)
    )


def _filled(text: str, inputs: TreatmentInputs) -> str:
    water_system = inputs.survey.system
    assumed = " (copper is assumed: the survey names no metal of pipes and valves)" if inputs.copper_assumed else ""
    return text.format(
        metals=listing(inputs.metals) + assumed,
        ph=f"{inputs.ph[0]:g} to {inputs.ph[1]:g}",
        ph_source=inputs.ph_source,
        minutes=f"{water_system.cleanse_minutes:g}",
        filter_mm=f"{water_system.filter_line_mm:g}",
        cleanser=_named(water_system.cleanser, "a cleanser for these metals (dose on its label)"),
        antifreeze=_glycol(inputs.survey),
        inhibitor=_named(water_system.inhibitor, "an inhibitor for these metals (dose on its label)"),
    )


def _glycol(survey: SurveyData) -> str:
    glycol = survey.project.antifreeze
    if glycol is None:
        return "no antifreeze"
    if glycol.percent_by_volume is not None:
        return f"{glycol.percent_by_volume:g} % by volume of {glycol.kind}"
    return f"{100.0 * (glycol.mass_fraction or 0.0):g} % by mass of {glycol.kind}"


def _named(additive: Additive | None, otherwise: str) -> str:
    if additive is None:
        return otherwise
    if additive.per_cent is not None:
        return f"{additive.name} ({additive.per_cent:g} % of the content)"
    return f"{additive.name} ({additive.dose_ml_per_l:g} ml per litre of content)"


def treatment_table(inputs: TreatmentInputs, rules: Sequence[TreatmentRule] | None = None) -> pd.DataFrame:
    """The treatment step by step; `quantity_l`: water for flushing or additive to dose."""
    rows = [
        {
            "step": number,
            "stage": rule.stage,
            "what": rule.what,
            "quantity_l": inputs.amount_l(rule.amount),
            "safety_notices": "; ".join(rule.caution),
            "source": rule.source,
        }
        for number, rule in enumerate(applicable_rules(inputs, rules), start=1)
    ]
    return table_frame(TREATMENT, rows)


def doses_table(inputs: TreatmentInputs) -> pd.DataFrame:
    """Quantity of each additive to buy: litres for the content, and containers where their size is known."""
    rows = []
    for use, additive in (("cleanser", inputs.survey.system.cleanser), ("inhibitor", inputs.survey.system.inhibitor)):
        if additive is None:
            continue
        litres = additive_volume_l(additive, inputs.content_l)
        rows.append(
            {
                "use": use,
                "name": additive.name,
                "water_content_l": inputs.content_l,
                "dose_percent": _or_nan(additive.per_cent),
                "dose_ml_per_l": _or_nan(additive.dose_ml_per_l),
                "dose_l": litres,
                "containers": _or_nan(_containers(litres, additive.container_l)),
                "source": additive.source or "its label, as stated in the survey",
            }
        )
    return table_frame(DOSES, rows)


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value


def _containers(litres: float, holds_l: float | None) -> float | None:
    """Whole containers; rounding errors above a whole number are ignored."""
    return None if holds_l is None else float(math.ceil(litres / holds_l - 1e-9))


def treatment_checks(inputs: TreatmentInputs) -> list[CheckResult]:
    """Checks of softened water, inhibitor and filter pipe, each with its verdict."""
    return list(_checks(inputs))


def _checks(inputs: TreatmentInputs) -> Iterator[CheckResult]:
    water_system = inputs.survey.system
    if inputs.aluminium and water_system.softened_fill:
        allowed = water_system.softened_fill_allowed
        yield _flag(SOFTENED, "fill water", allowed)
    if inputs.mixed:
        inhibitor = water_system.inhibitor
        suited = inhibitor is not None and inhibitor.mixed_metals is True
        limit = INHIBITOR
        if inhibitor is not None and inhibitor.mixed_metals is False:
            limit = replace(INHIBITOR, miss="fail")
        yield _flag(limit, "inhibitor (none entered)" if inhibitor is None else inhibitor.name, suited)
    first = next((trunk.pipe for trunk in inputs.survey.trunks if trunk.from_trunk is None), None)
    for name in dict.fromkeys((first,) if first else (loop.tails.pipe for loop in inputs.survey.loops)):
        pipe = inputs.survey.catalogue.pipe(name)
        yield check_at_least(
            FILTER, f"last pipe before the source, {name}", pipe.outside_mm, water_system.filter_line_mm
        )


def _flag(limit: Limit, subject: str, met: bool) -> CheckResult:
    """A yes-or-no check: 1 met, 0 not met, limit 1."""
    return check_at_least(limit, subject, float(met), 1.0)
