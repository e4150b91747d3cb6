"""Rows as plain JSON data and back, by the types of their columns: whatever tables there are."""

import base64
import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import BigInteger, Boolean, Column, Integer, LargeBinary, String, Table
from sqlalchemy.sql.schema import ScalarElementColumnDefault

from engine.store.types import Moment, Plain


class BadRow(ValueError):
    """A row that does not fit its table; its text is a sentence that says why."""


def plain_row(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row as JSON data: times in ISO 8601, bytes in Base64."""
    return {name: _plain(value) for name, value in row.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    return base64.b64encode(value).decode() if isinstance(value, bytes) else value


def typed_row(table: Table, row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row with the values that its table stores; what the data leave out is empty or its column's default.

    Raises: BadRow for a column that the table does not have, that is missing, or that holds another kind of value.
    """
    for name in row:
        if name not in table.c:
            raise BadRow(f"{table.name} have no {name[:60]} in this version of the program; use a newer one")
    return {column.name: _value(table, column, row) for column in table.c}


def _value(table: Table, column: Column[Any], row: Mapping[str, Any]) -> Any:
    value = row.get(column.name)
    if value is None:
        if column.nullable:
            return None
        if column.name in row or not isinstance(column.default, ScalarElementColumnDefault):
            raise BadRow(f"a row of {table.name} has no {column.name}")
        return column.default.arg
    typed = _typed(column.type, value)
    if typed is None:
        raise BadRow(f"{column.name} of a row of {table.name} cannot be {json.dumps(value)[:60]}")
    return typed


def _typed(kind: Any, value: Any) -> Any:
    """Return a value as a column of a type stores it, None if it is none of that type."""
    try:
        if isinstance(kind, Plain):
            json.dumps(value, ensure_ascii=False).encode()
            return value
        if isinstance(kind, Moment):
            time = datetime.fromisoformat(value)
            return time if time.tzinfo is not None else None
        if isinstance(kind, LargeBinary):
            return base64.b64decode(value, validate=True)
        if isinstance(kind, Boolean):
            return value if isinstance(value, bool) else None
        if isinstance(kind, Integer):
            bits = 63 if isinstance(kind, BigInteger) else 31
            fits = isinstance(value, int) and not isinstance(value, bool) and -(2**bits) <= value < 2**bits
            return value if fits else None
        if isinstance(kind, String):
            fits = isinstance(value, str) and len(value) <= (kind.length or len(value)) and "\0" not in value
            return value if fits and value.encode() is not None else None
    except (TypeError, ValueError):
        return None
    raise TypeError(f"an archive holds no {type(kind).__name__}")
