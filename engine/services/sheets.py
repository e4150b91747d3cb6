"""Documents of a build on paper and as data. Plain functions of stored documents, for a worker process."""

from __future__ import annotations

import json
from typing import Any, Final

from engine.build.document import Build, dump
from engine.build.reading import read_build
from engine.problem import Refused
from engine.publish.paper import Paper, Printed, plan_pdf, sheet_picture
from engine.services.weigh import Document, opened

SCHEMA_ID: Final = "buildmoot-build-1"
LONGEST_DOCUMENT: Final = 200_000


def sheet_of(document: Document, level: int | None, paper: Paper) -> Printed | Refused:
    """Return the sheet of a build at a level (None: its last) as PDF, with a picture of its first page.

    Refused: "no-such-level", as `opened`.
    """
    found = opened(document)
    if isinstance(found, Refused):
        return found
    build, catalog = found
    at = build.top if level is None else level
    if not 1 <= at <= build.top:
        has = f"levels 1 to {build.top}" if build.top else "no levels yet"
        return Refused("no-such-level", f"{build.name} has {has}; level {at} is none of them.")
    return sheet_picture(build, catalog, at, paper)


def plan_of(document: Document, paper: Paper) -> Printed | Refused:
    """Return the plan of all levels as PDF. Refused: "no-such-level" for a build without levels, as `opened`."""
    found = opened(document)
    if isinstance(found, Refused):
        return found
    build, catalog = found
    if not build.top:
        return Refused("no-such-level", f"{build.name} has no levels yet; add level lines to it first.")
    return Printed(plan_pdf(build, catalog, paper))


def schema() -> dict[str, Any]:
    """Return the JSON Schema of a build document, as `export` writes it."""
    made = Build.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": SCHEMA_ID, **made}


def schema_text() -> str:
    """Return the JSON Schema as the text of a file."""
    return json.dumps(schema(), ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def exported(build: Build) -> str:
    """Return a build as the text of a JSON file: its stored form, sorted, indented."""
    return json.dumps(dump(build), ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def imported(text: str) -> Build | Refused:
    """Return the build of an exported JSON text, checked against the schema.

    Refused: "text-too-long", "not-json", "no-build" with the place of the first fault, and what cannot be read.
    """
    import jsonschema

    if len(text) > LONGEST_DOCUMENT:
        return Refused(
            "text-too-long", f"That file has {len(text):,} characters; a build has at most {LONGEST_DOCUMENT:,}."
        )
    try:
        data = json.loads(text)
    except ValueError as error:
        return Refused("not-json", f"That file is no JSON: {error}.")
    except RecursionError:
        return Refused("not-json", "That file is nested too deeply to be a build.")
    fault = next(jsonschema.Draft202012Validator(schema()).iter_errors(data), None)
    if fault is not None:
        place = "/".join(map(str, fault.absolute_path)) or "the document itself"
        return Refused("no-build", f"That file is no build document: {place}: {fault.message[:200]}.")
    return read_build(data)
