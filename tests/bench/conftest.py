"""Databases for the measurements here."""

from tests.engine.databases import (
    _shared_postgres,
    database,
    postgres_server,
    postgres_url,
    sqlite_template,
    sqlite_url,
    url,
)

__all__ = ["_shared_postgres", "database", "postgres_server", "postgres_url", "sqlite_template", "sqlite_url", "url"]
