"""Field types of a file: numbers, texts, choices and lists, each with the wording of its requirement.

Pydantic checks types here and nowhere else. Every value of a table has a marker that
words its requirement; the meaning of a key is the `description` of its field, which schemas and pages show. Two
private signs let one pass over a file find every issue: `MISSING` replaces a required key that is absent, and
`UNREAD` replaces, in the second pass, a value that the first could not use. An unread value becomes NaN, an empty
text or an empty list, which the later checks skip.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any, get_args, get_origin

from pydantic import (
    BaseModel,
    ConfigDict,
    GetCoreSchemaHandler,
    ModelWrapValidatorHandler,
    ValidationError,
    ValidatorFunctionWrapHandler,
    model_validator,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from heatloop.text.quoting import LONGEST_NAME, is_printable, suggestion


class FieldState:
    """State of a value that no file can contain."""

    def __init__(self, word: str) -> None:
        self.word = word

    def __repr__(self) -> str:
        return self.word

    def __deepcopy__(self, memo: object) -> FieldState:
        return self


MISSING = FieldState("MISSING")

UNREAD = FieldState("UNREAD")

NUMBER_UNREAD = math.nan

TEXT_UNREAD = ""

COUNT_UNREAD = 0

DATE_UNREAD = dt.date.min

NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
SEVERAL = re.compile(r"[+-]?\d+(\.\d+)?(\s*,\s*[+-]?\d+(\.\d+)?)+")


SEMICOLONS = "; several values are separated by semicolons"


def _has_commas(value: Any) -> bool:
    """Whether a cell seems to hold several numbers with commas between them."""
    return isinstance(value, str) and SEVERAL.fullmatch(value.strip()) is not None


class _Field(ABC):
    """A value of a table: it words its own requirement, and `unread` replaces a value that cannot be used."""

    unread: Any = None

    @abstractmethod
    def requirement(self, value: Any, in_cell: bool = False) -> str:
        """The requirement in words: in a TOML file, or in a cell of a workbook."""

    def refuses(self, value: Any) -> bool:
        """Whether a value of the right type is still not accepted."""
        return False

    def check(self, value: Any, handler: ValidatorFunctionWrapHandler) -> Any:
        """Validate one value for pydantic."""
        if value is UNREAD:
            return list(self.unread) if isinstance(self.unread, list) else self.unread
        try:
            kept = handler(value)
        except ValidationError as error:
            if any(item["loc"] for item in error.errors(include_url=False)):
                raise
            raise self._error(value) from None
        if self.refuses(kept):
            raise self._error(value)
        return kept

    def _error(self, value: Any) -> PydanticCustomError:
        words = {"requirement": self.requirement(value), "in_cell": self.requirement(value, in_cell=True)}
        return PydanticCustomError("requirement", "{requirement}", words)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_wrap_validator_function(self.check, handler(source))


@dataclass(frozen=True)
class NumberField(_Field):
    """A number with its unit and range; `above` and `below` are exclusive bounds."""

    unit: str
    above: float | None = None
    minimum: float | None = None
    maximum: float | None = None
    below: float | None = None
    unread: Any = NUMBER_UNREAD

    def requirement(self, value: Any, in_cell: bool = False) -> str:
        low = f"more than {self.above:g}" if self.above is not None else ""
        low = f"at least {self.minimum:g}" if self.minimum is not None else low
        high = f"at most {self.maximum:g}" if self.maximum is not None else ""
        high = f"less than {self.below:g}" if self.below is not None else high
        limits = " and ".join(words for words in (low, high) if words)
        words = f"a number in {self.unit}" if self.unit else "a number"
        return (f"{words}, {limits}" if limits else words) + self._slip(value, in_cell)

    def _slip(self, value: Any, in_cell: bool) -> str:
        """A hint where a number is in quotes, or a length seems to be in the wrong one of metres and millimetres."""
        if isinstance(value, str) and NUMBER.fullmatch(value.strip()):
            number = value.strip().replace(",", ".")
            return f"; {number} with a decimal point" if in_cell else f"; {number} without quotes"
        if in_cell and _has_commas(value):
            return SEMICOLONS
        if isinstance(value, bool) or not isinstance(value, int | float) or not self.refuses(value):
            return ""
        if self.unit == "metres" and 100 <= value <= 1e6 and not self.refuses(value / 1000.0):
            return f" ({value:g} mm is {value / 1000.0:g} m)"
        if self.unit == "millimetres" and 0 < value < 1 and not self.refuses(value * 1000.0):
            return f" ({value:g} m is {value * 1000.0:g} mm)"
        return ""

    def refuses(self, value: Any) -> bool:
        return (
            (self.above is not None and value <= self.above)
            or (self.minimum is not None and value < self.minimum)
            or (self.maximum is not None and value > self.maximum)
            or (self.below is not None and value >= self.below)
        )


@dataclass(frozen=True)
class IntegerField(_Field):
    """A whole number in a range."""

    what: str
    minimum: int = 1
    maximum: int = 10_000
    unread: Any = COUNT_UNREAD

    def requirement(self, value: Any, in_cell: bool = False) -> str:
        hint = SEMICOLONS if in_cell and _has_commas(value) else ""
        return f"{self.what}, from {self.minimum} to {self.maximum}{hint}"

    def refuses(self, value: Any) -> bool:
        return not self.minimum <= int(value) <= self.maximum


@dataclass(frozen=True)
class TextField(_Field):
    """A text on one line that is not empty, or may be where `empty` is allowed."""

    what: str
    empty: bool = False
    maximum: int = LONGEST_NAME
    unread: Any = TEXT_UNREAD

    def requirement(self, value: Any, in_cell: bool = False) -> str:
        long = f" of at most {self.maximum} characters" if isinstance(value, str) and len(value) > self.maximum else ""
        return f"{self.what}, as a text {'' if in_cell else 'in quotes '}on one line{long}"

    def refuses(self, value: Any) -> bool:
        text = str(value)
        return len(text) > self.maximum or not is_printable(text) or (not self.empty and not text.strip())


@dataclass(frozen=True)
class ChoiceField(_Field):
    """One of a few words."""

    options: tuple[str, ...]
    unread: Any = TEXT_UNREAD

    def requirement(self, value: Any, in_cell: bool = False) -> str:
        listed = " or ".join(option if in_cell else f'"{option}"' for option in self.options)
        close = suggestion(value, self.options) if isinstance(value, str) else None
        return f'{listed}; the nearest is "{close}"' if close else listed


@dataclass(frozen=True)
class DateField(_Field):
    """A date in TOML form."""

    unread: Any = DATE_UNREAD

    def requirement(self, value: Any, in_cell: bool = False) -> str:
        slip = ", without quotes" if isinstance(value, str) and not in_cell else ""
        return f"a date such as 2026-11-29{slip}"


@dataclass(frozen=True)
class BooleanField(_Field):
    """Yes or no."""

    unread: Any = False

    def requirement(self, value: Any, in_cell: bool = False) -> str:
        return "TRUE or FALSE" if in_cell else "true or false, without quotes"


@dataclass(frozen=True)
class ListField(_Field):
    """A list, of at least `minimum` items and at most `maximum`."""

    what: str
    minimum: int = 0
    maximum: int = 10_000

    @property
    def unread(self) -> Any:
        return []

    def requirement(self, value: Any, in_cell: bool = False) -> str:
        if self.minimum == self.maximum:
            return f"a list of {self.minimum} {self.what}"
        words = f"a list of {self.what}"
        if self.maximum < 10_000:
            return f"{words}, {self.minimum} to {self.maximum} of them"
        return f"{words}, at least {self.minimum}" if self.minimum else words

    def refuses(self, value: Any) -> bool:
        return not self.minimum <= len(value) <= self.maximum


class FileTable(BaseModel):
    """A table of a file: its keys are the fields, by alias where a key is no Python name."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)

    @classmethod
    @cache
    def key_names(cls) -> Mapping[str, bool]:
        """Every key of the table and whether it is required."""
        return MappingProxyType(
            {str(field.validation_alias or name): field.is_required() for name, field in cls.model_fields.items()}
        )

    @classmethod
    @cache
    def list_names(cls) -> tuple[str, ...]:
        """The keys of the table that hold lists of tables: in a file they are in double brackets."""
        return tuple(
            str(field.validation_alias or name)
            for name, field in cls.model_fields.items()
            if get_origin(field.annotation) is list and _table_in(field.annotation) is not None
        )

    @model_validator(mode="wrap")
    @classmethod
    def _fill(cls, value: Any, handler: ModelWrapValidatorHandler[Any]) -> Any:
        sign = UNREAD if value is UNREAD else MISSING
        if value is UNREAD:
            value = {}
        if isinstance(value, dict):
            value = {**{key: sign for key, required in cls.key_names().items() if required}, **value}
        return handler(value)


def table_at(root: type[FileTable], loc: tuple[str | int, ...]) -> type[FileTable] | None:
    """The kind of table at `loc`, by the field types; None for a value that is no table."""
    kind: type[FileTable] | None = root
    for step in loc:
        if isinstance(step, str) and kind is not None:
            kind = _tables_by_key(kind).get(step)
    return kind


@cache
def _tables_by_key(kind: type[FileTable]) -> Mapping[str, type[FileTable] | None]:
    """The kind of table at each key of a table; None for a value that is no table."""
    return MappingProxyType(
        {str(field.validation_alias or name): _table_in(field.annotation) for name, field in kind.model_fields.items()}
    )


def _table_in(annotation: Any) -> type[FileTable] | None:
    if isinstance(annotation, type) and issubclass(annotation, FileTable):
        return annotation
    return next((table for part in get_args(annotation) if (table := _table_in(part))), None)


Name = Annotated[str, TextField("a name")]
Note = Annotated[str, TextField("a text", empty=True, maximum=2000)]
YesNo = Annotated[bool, BooleanField()]
Bore = Annotated[float, NumberField("millimetres", minimum=2, maximum=100)]
Roughness = Annotated[float, NumberField("millimetres", minimum=0, maximum=5)]
Zeta = Annotated[float, NumberField("", minimum=0, maximum=1000)]
Output = Annotated[float, NumberField("W/m", above=0, maximum=2000)]
Exponent = Annotated[float, NumberField("", minimum=1, maximum=1.6)]
Conductivity = Annotated[float, NumberField("W/(m K)", above=0, maximum=500)]
Kv = Annotated[float, NumberField("m3/h at 1 bar", above=0, maximum=1000)]
Pressure = Annotated[float, NumberField("kPa, gauge", above=0, maximum=2000)]
Names = Annotated[list[Name], ListField("names")]
