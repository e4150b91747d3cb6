"""The JSON Schema of the folio format, made from the models; it is shipped as `folio.schema.json` beside this file."""

import json
from importlib.resources import files
from typing import Any, Final

from pydantic.json_schema import models_json_schema

from engine.rules.base import Content
from engine.rules.content import FOLDERS, Release
from engine.rules.folio import FolioHeader

_TITLE: Final = "A Buildmoot folio"
_ABOUT: Final = (
    "One file with everything in it. In a folder, folio.yaml holds the keys that are no lists of entries, and the"
    " files of a subfolder such as feats/ hold the entries of that key, one or a list of them in each file."
)


def folio_schema() -> dict[str, Any]:
    """Return the schema of a folio in one file (JSON Schema 2020-12); `$defs` has each kind of entry and grant."""
    models: list[type[Content]] = [FolioHeader, Release, *FOLDERS.values()]
    refs, whole = models_json_schema([(model, "validation") for model in models], by_alias=True)
    definitions = whole["$defs"]
    header = definitions.pop(refs[FolioHeader, "validation"]["$ref"].rpartition("/")[2])
    entries = {
        folder: {"type": "array", "items": refs[model, "validation"], "description": f"the entries of {folder}/"}
        for folder, model in FOLDERS.items()
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": _TITLE,
        "description": _ABOUT,
        "type": "object",
        "properties": {**header["properties"], **entries, "release": refs[Release, "validation"]},
        "required": header["required"],
        "additionalProperties": False,
        "$defs": definitions,
    }


def schema_text() -> str:
    """Return the schema as the text of the shipped file."""
    return json.dumps(folio_schema(), indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def shipped_schema() -> dict[str, Any]:
    """Return the schema that comes with the program, without building any model."""
    found: dict[str, Any] = json.loads((files("engine.rules") / "folio.schema.json").read_text(encoding="utf-8"))
    return found


def template() -> str:
    """Return the template of a folio in one file, for a game master to fill in."""
    return (files("engine.rules") / "folio.template.yaml").read_text(encoding="utf-8")


if __name__ == "__main__":  # after a change of a model
    from pathlib import Path

    (Path(__file__).parent / "folio.schema.json").write_text(schema_text(), encoding="utf-8")
