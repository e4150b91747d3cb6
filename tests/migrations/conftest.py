"""Databases for the tests here."""

from tests.engine.databases import (  # noqa: F401 - fixtures are found by their names here
    fresh_postgres_url,
    fresh_url,
    postgres_server,
    sqlite_template,
    sqlite_url,
)
