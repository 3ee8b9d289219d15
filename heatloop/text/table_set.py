"""Results as sets of described tables: the base of all results, and their form as plain records."""

from __future__ import annotations

from abc import ABCMeta
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, ClassVar, overload

import pandas as pd

from heatloop.text.column import Column, TableDescription
from heatloop.text.summary import HasSummary

SCHEMA_VERSION = 2


def table_frame(description: TableDescription, rows: Iterable[Mapping[str, Any] | Sequence[Any]]) -> pd.DataFrame:
    """The rows as a table with the columns of its description, in their order.

    A row is a mapping of all columns or a sequence in their order. ValueError for a row of other columns.
    """
    held = list(rows)
    names = description.names
    for row in held:
        wrong = set(row) ^ set(names) if isinstance(row, Mapping) else len(row) != len(names)
        if wrong:
            raise ValueError(f"a row of the table {description.name} has other columns than the table: {wrong}")
    return pd.DataFrame(held, columns=names)


class Table(property):
    """A table of a result by its name, documented by its description; each access returns a new copy."""

    def __init__(self, description: TableDescription) -> None:
        self.description = description
        super().__init__(self._copied)
        self.__doc__ = _documentation(description)

    def _copied(self, result: TableSet) -> pd.DataFrame:
        return result.frames[self.description.name].copy()

    @overload
    def __get__(self, instance: None, owner: type | None = None, /) -> Table: ...

    @overload
    def __get__(self, instance: Any, owner: type | None = None, /) -> pd.DataFrame: ...

    def __get__(self, instance: Any, owner: type | None = None, /) -> Table | pd.DataFrame:
        return super().__get__(instance, owner)  # type: ignore[no-any-return]


def _documentation(description: TableDescription) -> str:
    lines = []
    for column in description.columns:
        meaning = f" ({column.documented_meaning})" if column.documented_meaning else ""
        lines.append(f"{column.name}: {column.documented_heading}{meaning}")
    return "\n".join((description.about, "", *lines))


class TablesOnDemand(Mapping[str, pd.DataFrame]):
    """Tables by name, each made of `source` by its function of `makers` when first used, and kept.

    A pickle contains the tables made so far; the others are made again when it is read.
    """

    def __init__(self, source: Any, makers: Mapping[str, Callable[[Any], pd.DataFrame]]) -> None:
        self._source, self._makers = source, makers
        self._made: dict[str, pd.DataFrame] = {}

    def __getitem__(self, name: str) -> pd.DataFrame:
        if name not in self._made:
            self._made[name] = self._makers[name](self._source)
        return self._made[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._makers)

    def __len__(self) -> int:
        return len(self._makers)

    def __contains__(self, name: object) -> bool:
        return name in self._makers


class PublicNames(ABCMeta):
    """Base class of results: `dir` and completion leave out the names that a class lists in `_internal`."""

    def hidden(cls) -> set[str]:
        """Names that this class and its bases list in `_internal`."""
        return {name for base in cls.__mro__ for name in vars(base).get("_internal", ())}

    def __dir__(cls) -> list[str]:
        return sorted(set(super().__dir__()) - cls.hidden())


class TableSet(HasSummary, metaclass=PublicNames):
    """A result: tables by name and a summary, which are `frames` and `facts` of its fields.

    A class names each of its tables once, as a :class:`Table`, and the columns of its summary.
    """

    frames: Mapping[str, pd.DataFrame]
    facts: Mapping[str, Any]
    summary_columns: ClassVar[tuple[Column, ...]] = ()
    _internal: ClassVar[frozenset[str]] = frozenset({"frames", "facts", "summary_columns", "descriptions", "of"})

    def __dir__(self) -> list[str]:
        """The public names."""
        return sorted(set(super().__dir__()) - type(self).hidden())

    @classmethod
    def descriptions(cls) -> dict[str, TableDescription]:
        """The descriptions of its tables by their names."""
        declared = (
            member for base in reversed(cls.__mro__) for member in vars(base).values() if isinstance(member, Table)
        )
        return {table.description.name: table.description for table in declared}

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """All tables of the result by name, as new copies, so that changes of a copy do not affect the result.

        Examples
        --------
        The tables of a design; those of any other result are read in the same way:

        >>> import heatloop as hl
        >>> sorted(hl.size("data/mill-annexe/survey.toml").tables)[:3]
        ['assumptions', 'checks', 'elements']
        """
        return {name: frame.copy() for name, frame in self.frames.items()}

    @property
    def summary(self) -> dict[str, Any]:
        """Key figures of the result by name, each with its unit in the name.

        Examples
        --------
        A key figure of a design; those of any other result are read in the same way:

        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").summary["rooms"]
        1
        """
        return dict(self.facts)

    def to_dict(self) -> dict[str, Any]:
        """All tables of the result as lists of row objects, `summary` and `schema_version`: the JSON form.

        Examples
        --------
        A design; any other result has the same form:

        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").to_dict()["schema_version"]
        2
        """
        return {"schema_version": SCHEMA_VERSION, **table_records(self.frames, self.facts)}


def table_records(frames: Mapping[str, pd.DataFrame], facts: Mapping[str, Any]) -> dict[str, Any]:
    """The summary as an object and every table as a list of row objects; missing values are null."""
    summary = {key: None if _missing(value) else value for key, value in facts.items()}
    return {"summary": summary, **{name: _rows(frame) for name, frame in frames.items()}}


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    records = frame.astype(object).where(frame.notna(), None).to_dict(orient="records")
    return [{str(key): _plain(value) for key, value in record.items()} for record in records]


def _plain(value: Any) -> Any:
    return value.item() if hasattr(value, "item") else value


def _missing(value: Any) -> bool:
    return isinstance(value, float) and value != value
