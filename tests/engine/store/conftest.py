"""Databases for the tests here."""

from tests.engine.databases import (  # noqa: F401 - fixtures are found by their names here
    _shared_postgres,
    database,
    postgres_server,
    postgres_url,
    sqlite_template,
    sqlite_url,
    url,
)
