"""The published schema and template of the folio format: current, and true of real folios."""

from pathlib import Path

import jsonschema
import pytest
import yaml

from engine.rules.content import FOLDERS
from engine.rules.folio import Folio
from engine.rules.folio_schema import folio_schema, schema_text, shipped_schema, template
from engine.rules.grants import GRANT_KINDS
from engine.rules.loader import read_folio
from engine.store.folio_files import SHIPPED, beside

FOLIOS = Path(__file__).parents[2] / "data" / "folios"


def test_the_shipped_schema_is_that_of_the_models() -> None:
    """After a change of a model: `python -m engine.rules.folio_schema` writes the file anew."""
    shipped = (SHIPPED.parent / "folio.schema.json").read_text(encoding="utf-8")
    assert shipped == schema_text()
    assert shipped_schema() == folio_schema()


def test_it_names_every_folder_and_every_grant() -> None:
    schema = shipped_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert set(FOLDERS) <= set(schema["properties"])
    kinds = {
        d["properties"]["kind"].get("const") for d in schema["$defs"].values() if "kind" in d.get("properties", {})
    }
    assert set(GRANT_KINDS) <= kinds


def whole(folder: Path) -> dict[str, object]:
    """Return a folder's folio as one file would hold it."""
    data: dict[str, object] = yaml.safe_load((folder / "folio.yaml").read_text(encoding="utf-8"))
    for name in FOLDERS:
        entries: list[object] = []
        for path in sorted((folder / name).glob("*.yaml")):
            found = yaml.safe_load(path.read_text(encoding="utf-8"))
            entries += found if isinstance(found, list) else [found]
        if entries:
            data[name] = entries
    release = folder / "release.yaml"
    if release.exists():
        data["release"] = yaml.safe_load(release.read_text(encoding="utf-8"))
    return data


@pytest.mark.parametrize("name", ["coast-pilots", "driftborn.yaml", "harbour-watch.yaml", "srd-5.1", "the template"])
def test_real_folios_follow_it(name: str) -> None:
    if name == "the template":
        data = yaml.safe_load(template())
    elif name == "srd-5.1":
        # Point costs have whole numbers as keys, which JSON writes as text.
        data = whole(SHIPPED / name)
        costs = data["release"]["scores"]["point_costs"]  # type: ignore[index]
        data["release"]["scores"]["point_costs"] = {str(k): v for k, v in costs.items()}  # type: ignore[index]
    else:
        place = FOLIOS / name
        data = whole(place) if place.is_dir() else yaml.safe_load(place.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(shipped_schema()).validate(data)


def test_the_template_is_in_order() -> None:
    """As it stands, and with the class in it that is commented out."""
    lines = template().splitlines()
    start = lines.index("# classes:")
    opened = [*lines[:start], *(line.removeprefix("# ") for line in lines[start:])]
    for text in (template(), "\n".join(opened) + "\n"):
        found = read_folio({"folio.yaml": text.encode()}, beside)
        assert isinstance(found, Folio), [str(p) for p in found]
    assert "class" in found.entries
