"""Column types that mean the same on every database."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from sqlalchemy import BigInteger, Dialect, Text
from sqlalchemy.types import TypeDecorator

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)


class Moment(TypeDecorator[datetime]):
    """An aware UTC time, stored as whole microseconds since 1970: exact, sorted and the same on every database.

    Raises: ValueError for a time without a zone, which would mean something else on every machine.
    """

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> int | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a time without a zone cannot be stored: {value!r}")
        return (value - _EPOCH) // _MICROSECOND

    def process_result_value(self, value: int | None, dialect: Dialect) -> datetime | None:
        return None if value is None else _EPOCH + value * _MICROSECOND


class Plain(TypeDecorator[Any]):
    """Plain JSON data as text: keys sorted, no spaces, so that equal data are equal text."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:
        if value is None:
            return None
        return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:
        return None if value is None else json.loads(value)
