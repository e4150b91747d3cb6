"""Take the figures of SRD 5.1 out of the rules text into srd-5.1-text/.

Run from the repository: `python -m tests.reference.from_text`. The text is read from the folder that
BUILDMOOT_REFERENCE names (default ../shared/reference). Imports nothing of the project's packages.
"""

from __future__ import annotations

from pathlib import Path

from tests.reference import (
    text_classes,
    text_creatures,
    text_equipment,
    text_magic_items,
    text_spells,
    text_subclasses,
)
from tests.reference.figures import TEXT_FOLDER, Record, reference_folder, render

SOURCE = (
    "System Reference Document 5.1 by Wizards of the Coast LLC (CC-BY-4.0), "
    "markdown copy of github.com/BTMorton/dnd-5e-srd at bf6ac2ae"
)
CREATURE_FILES = ("monsters.md", "creatures.md", "npcs.md")


def figures(reference: Path) -> dict[str, str]:
    """The text of every figure file by file name, as read from `reference`/srd-5.1."""
    text = {path.name: path.read_text(encoding="utf-8") for path in sorted((reference / "srd-5.1").glob("*.md"))}
    classes = text["classes.md"]
    tables: dict[str, tuple[str, list[Record]]] = {
        "levels": ("classes.md, the twelve class tables", text_classes.class_levels(classes)),
        "classes": ("classes.md, Hit Points and Proficiencies of each class", text_classes.basics(classes)),
        "starting-equipment": ("classes.md, Equipment of each class", text_subclasses.starting_equipment(classes)),
        "subclass-features": ("classes.md, the twelve subclasses", text_subclasses.features(classes)),
        "subclass-spells": ("classes.md, spell tables of subclasses", text_classes.subclass_spells(classes)),
        "subclass-spell-lists": (
            "classes.md, spell tables of subclasses",
            text_classes.subclass_lists(text_classes.subclass_spells(classes)),
        ),
        "invocations": ("classes.md, Eldritch Invocations", text_subclasses.invocations(classes)),
        "spells": ("spellcasting.md, Spell Lists and Spell Descriptions", text_spells.spells(text["spellcasting.md"])),
        "creatures": (
            "monsters.md, creatures.md, npcs.md, stat blocks",
            text_creatures.creatures({name: text[name] for name in CREATURE_FILES}),
        ),
        "magic-items": ("magic-items.md", text_magic_items.magic_items(text["magic-items.md"])),
    }
    for name, records in text_classes.multiclassing(text["beyond-1st-level.md"]).items():
        tables[name] = ("beyond-1st-level.md, Character Advancement and Multiclassing", records)
    for name, records in text_equipment.equipment(text["equipment.md"]).items():
        tables[name] = ("equipment.md", records)
    return {
        f"{name}.json": render({"source": SOURCE, "section": section, "records": len(records)}, records)
        for name, (section, records) in tables.items()
    }


def main() -> None:
    """Write the figure files."""
    TEXT_FOLDER.mkdir(exist_ok=True)
    for name, content in figures(reference_folder()).items():
        (TEXT_FOLDER / name).write_text(content, encoding="utf-8")


if __name__ == "__main__":
    main()
