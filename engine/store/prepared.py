"""Statements compiled once: for the few paths that a click waits on.

Running a Core statement through the async layers costs several times what the database needs for it. A prepared one is
the same Core statement, but its SQL, its parameters and its result types are worked out once.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, TypeAlias

from sqlalchemy import Executable, Select
from sqlalchemy.dialects import postgresql, sqlite

Row: TypeAlias = tuple[Any, ...]
Insert: TypeAlias = sqlite.Insert | postgresql.Insert
_Processor: TypeAlias = Callable[[Any], Any]


class Read:
    """A prepared SELECT; its parameters are `bindparam`s with a type."""

    def __init__(self, statement: Executable) -> None:
        self.statement = statement

    def on(self, dialect: str) -> Executable:
        """Return the statement for a dialect: the same for all."""
        return self.statement

    def __call__(self, **values: Any) -> "Call":
        """Return the statement with its values."""
        return Call(self, values)

    @cached_property
    def plan(self) -> "Plan":
        """How to run it on SQLite's own driver."""
        return Plan.of(self.statement, ())


class Write:
    """A prepared INSERT, built by a function that is given the dialect's own `insert`, which upserts need."""

    def __init__(self, build: Callable[[Callable[[Any], Any]], Any], *columns: str) -> None:
        self._build = build
        self._columns = columns
        self._made: dict[str, Any] = {}

    def on(self, dialect: str) -> Any:
        """Return the statement for a dialect, `sqlite` or `postgresql`."""
        if dialect not in self._made:
            self._made[dialect] = self._build(sqlite.insert if dialect == "sqlite" else postgresql.insert)
        return self._made[dialect]

    def __call__(self, **values: Any) -> "Call":
        """Return the statement with a value for each of its columns."""
        return Call(self, values)

    @cached_property
    def plan(self) -> "Plan":
        """How to run it on SQLite's own driver."""
        return Plan.of(self.on("sqlite"), self._columns)


@dataclass(frozen=True, slots=True)
class Call:
    """A prepared statement with its values."""

    prepared: Read | Write
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Plan:
    """SQL for SQLite; what is done to values on their way in, by name, and to columns on their way out, by place."""

    sql: str
    into: tuple[tuple[str, _Processor], ...]
    out: tuple[tuple[int, _Processor], ...]

    @classmethod
    def of(cls, statement: Any, columns: tuple[str, ...]) -> "Plan":
        """Return the plan of a Core statement; columns: what an INSERT is given."""
        compiled = statement.compile(dialect=_DIALECT, column_keys=columns or None)
        into = [(name, p) for name, bind in compiled.binds.items() if (p := _bind(bind.type))]
        selected = statement.selected_columns if isinstance(statement, Select) else ()
        out = [(place, p) for place, column in enumerate(selected) if (p := _result(column.type))]
        return cls(str(compiled), tuple(into), tuple(out))

    def bound(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """Return the values as the driver takes them."""
        bound = dict(values)
        for name, process in self.into:
            bound[name] = process(bound[name])
        return bound

    def rows(self, raw: list[Row]) -> list[Row]:
        """Return the driver's rows as values."""
        if not self.out:
            return raw
        rows = []
        for row in raw:
            values = list(row)
            for place, process in self.out:
                values[place] = process(values[place])
            rows.append(tuple(values))
        return rows


_DIALECT: Final = sqlite.dialect(paramstyle="named")


def _bind(type_: Any) -> _Processor | None:
    processor: _Processor | None = type_.dialect_impl(_DIALECT).bind_processor(_DIALECT)
    return processor


def _result(type_: Any) -> _Processor | None:
    processor: _Processor | None = type_.dialect_impl(_DIALECT).result_processor(_DIALECT, None)
    return processor
