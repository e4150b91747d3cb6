"""Magic items of the open data set, in the shape of the text's records."""

from __future__ import annotations

from typing import Any

from tests.reference.figures import Record, plain
from tests.reference.text_magic_items import kind_line


def magic_items(entries: list[dict[str, Any]]) -> list[Record]:
    """One record for each item that is no variant; a variant's rarity stands in `varieties` of its item."""
    rarity = {entry["index"]: entry["rarity"]["name"].lower() for entry in entries}
    found = []
    for entry in entries:
        if entry["variant"]:
            continue
        facts = kind_line(entry["desc"][0])
        if facts is None:
            raise ValueError(f"no type line in {entry['index']}")
        varieties = {
            each["index"].removeprefix(entry["index"] + "-").removeprefix("of-"): rarity[each["index"]]
            for each in entry["variants"]
        }
        found.append(
            {
                "id": entry["index"],
                "name": plain(entry["name"]),
                **facts,
                "rarity": rarity[entry["index"]],
                "varieties": varieties if len(set(varieties.values())) > 1 else {},
            }
        )
    return found
