"""Take the figures of SRD 5.1 out of the open data set into srd-5.1-data/.

Run from the repository: `python -m tests.reference.from_data`. The data set is read from the folder that
BUILDMOOT_REFERENCE names (default ../shared/reference). Imports nothing of the project's packages.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.reference import (
    data_classes,
    data_creatures,
    data_equipment,
    data_magic_items,
    data_spells,
    data_subclasses,
)
from tests.reference.figures import DATA_FOLDER, Record, reference_folder, render

SOURCE = "open data set (MIT) over SRD 5.1 content (CC-BY-4.0), github.com/5e-bits/5e-database at bfd3db4b, src/2014/en"


def figures(reference: Path) -> dict[str, str]:
    """The text of every figure file by file name, as read from `reference`/open-dataset/2014."""

    def load(name: str) -> list[dict[str, Any]]:
        path = reference / "open-dataset" / "2014" / f"{name}.json"
        entries: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))
        return entries

    levels, classes, features = load("levels"), load("classes"), load("features")
    spells = load("spells")
    tables: dict[str, tuple[str, list[Record]]] = {
        "levels": ("levels", data_classes.class_levels(levels)),
        "classes": ("classes", data_classes.basics(classes)),
        "multiclass": ("classes, multi_classing", data_classes.multiclass(classes)),
        "starting-equipment": ("classes", data_subclasses.starting_equipment(classes)),
        "subclass-features": ("features, levels", data_subclasses.features(features, levels)),
        "subclass-spells": ("subclasses", data_classes.subclass_spells(load("subclasses"))),
        "subclass-spell-lists": ("spells, subclasses", data_classes.subclass_lists(spells)),
        "invocations": ("features", data_subclasses.invocations(features)),
        "spells": ("spells", [data_spells.spell(entry) for entry in spells]),
        "creatures": ("monsters", [data_creatures.creature(entry) for entry in load("monsters")]),
        "magic-items": ("magic-items", data_magic_items.magic_items(load("magic-items"))),
    }
    for name, records in data_equipment.equipment(load("equipment")).items():
        tables[name] = ("equipment", records)
    return {
        f"{name}.json": render({"source": SOURCE, "section": section, "records": len(records)}, records)
        for name, (section, records) in tables.items()
    }


def main() -> None:
    """Write the figure files."""
    DATA_FOLDER.mkdir(exist_ok=True)
    for name, content in figures(reference_folder()).items():
        (DATA_FOLDER / name).write_text(content, encoding="utf-8")


if __name__ == "__main__":
    main()
