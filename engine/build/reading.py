"""Reading stored documents of every schema there has been."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from pydantic import ValidationError

from engine.build.document import SCHEMA, Build
from engine.problem import Refused

# Schema -> what brings a document of it to the next one. Pure functions: they take stored data and return new data,
# and are never changed once documents of that schema exist.
Upgrade = Callable[[dict[str, Any]], dict[str, Any]]
UPGRADES: Final[Mapping[int, Upgrade]] = {}


def read_build(data: Any) -> Build | Refused:
    """Return the build of a stored document, brought up to the present schema.

    Refused codes: `build-newer-schema`, `build-unreadable` (no document, or one that does not validate).
    """
    return upgraded(data, UPGRADES, SCHEMA)


def upgraded(data: Any, upgrades: Mapping[int, Upgrade], present: int) -> Build | Refused:
    """Return the build of a document after the upgrades from its schema to the present one."""
    if not isinstance(data, dict):
        return Refused("build-unreadable", "This is no build document; expected an object with `schema` and `name`.")
    schema = data.get("schema")
    if not isinstance(schema, int) or isinstance(schema, bool) or schema < 1:
        return Refused("build-unreadable", "The build document names no `schema`; expected a whole number from 1 on.")
    if schema > present:
        return Refused(
            "build-newer-schema",
            f"The build was written by a newer version (schema {schema}); this one reads up to schema {present}. "
            "Update the program to read it.",
        )
    document = dict(data)
    while schema < present:
        document = {**upgrades[schema](document), "schema": schema + 1}
        schema += 1
    try:
        return Build.model_validate(document)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = "/".join(str(step) for step in first["loc"]) or "document"
        reason = first["msg"].removeprefix("Value error, ")
        return Refused("build-unreadable", f"The build document cannot be read: `{place}`: {reason}.")
