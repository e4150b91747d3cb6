"""Databases and the small server for the tests here."""

from tests.engine.databases import (  # noqa: F401 - fixtures are found by their names here
    _shared_postgres,
    database,
    postgres_server,
    postgres_url,
    sqlite_template,
    sqlite_url,
    url,
)
from tests.engine.services.sitting import sitting  # noqa: F401
from tests.engine.services.world import settled_file, world  # noqa: F401
