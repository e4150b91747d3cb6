"""Magic items of the SRD 5.1 text: name, type, rarity, attunement, and the rarities of named varieties."""

from __future__ import annotations

import re

from tests.reference.figures import Record, plain, slug
from tests.reference.text_tables import rows

RARITIES = "common|uncommon|rare|very rare|legendary|artifact"
TYPES = "Armor|Weapon|Potion|Ring|Rod|Scroll|Staff|Wand|Wondrous item"
KIND = re.compile(
    rf"^(?P<type>{TYPES})(?: \((?P<which>[^)]*)\))?, (?P<rarity>.*?)(?: \(requires attunement(?P<by>[^)]*)\))?$"
)


def kind_line(printed: str) -> Record | None:
    """Type, subtype, rarity and attunement out of an item's italic line; None if it is no such line.

    Where the line names several rarities `rarity` is `varies` and `varieties` maps each named kind to its own.
    """
    match = KIND.match(re.sub(r"(?i)^wondr?ous items?", "Wondrous item", plain(printed)))
    if not match:
        return None
    rarity = match["rarity"].lower()
    varieties: dict[str, str] = {}
    for each, names in re.findall(rf"({RARITIES}) \(([^)]*)\)", rarity):
        varieties |= {slug(name): each for name in names.split(" or ")}
    return {
        "type": match["type"].lower(),
        "which": match["which"],
        "rarity": rarity if re.fullmatch(RARITIES, rarity) else "varies",
        "attunement": "(requires attunement" in plain(printed),
        "by": re.sub(r"^ by (an? )?", "", match["by"]) if match["by"] else None,
        "varieties": varieties,
    }


def varieties(name: str, block: str) -> dict[str, str]:
    """Rarity of each variety that an item's entry prints in a table or in the heads of its paragraphs."""
    found = {}
    for head, rarity in re.findall(rf"^\*\*\*([^.(]*) \(((?i:{RARITIES}))\)\.", block, flags=re.M):
        found[slug(head)] = rarity.lower()
    for row in rows(block):
        if "Rarity" not in row.titles:
            continue
        rarity = row.cells[row.titles.index("Rarity")].lower()
        first = re.sub(rf"(?i)giant|^{name.split(',')[0]}|^potion of|strength|healing", "", row.cells[0])
        for variety in re.split(r"/", first):
            found[slug(variety) or "common"] = rarity
    return found


def magic_items(text: str) -> list[Record]:
    """One record for each item heading that a type line follows."""
    found = []
    for block in re.split(r"^#### ", text, flags=re.M)[1:]:
        name, _, rest = block.partition("\n")
        head = next((line for line in rest.split("\n") if line.strip()), "")
        facts = kind_line(head) if head.startswith("*") else None
        if facts is None:
            continue
        facts["varieties"] = facts["varieties"] or varieties(plain(name), rest)
        found.append({"id": slug(name), "name": plain(name), **facts})
    return found
