"""Figures of tests/reference with one value a cell: where two sources differ, the side that the evidence speaks for.

Imports nothing of the engine. Sources: SRD 5.1 (text) and the open data set; the differences and which side is right
stand in tests/reference/known-differences.json and found-differences.json.
"""

import json
from functools import cache
from typing import Any

from tests.reference.compare import ABSENT, pairs
from tests.reference.figures import DATA_FOLDER, HERE, TEXT_FOLDER, read

Cells = dict[str, Any]


@cache
def differences() -> tuple[dict[str, Any], ...]:
    """Return every difference between the two sources, each with the side to believe."""
    found: list[dict[str, Any]] = []
    for name in ("known-differences.json", "found-differences.json"):
        found += json.loads((HERE / name).read_text(encoding="utf-8"))["differences"]
    return tuple(found)


@cache
def believed(file: str) -> dict[str, Cells]:
    """Return the cells of every record of a figure file by the text's id, each with the value to believe."""
    text, data = read(TEXT_FOLDER / f"{file}.json")[1], read(DATA_FOLDER / f"{file}.json")[1]
    found: dict[str, Cells] = {}
    for identity, mine, theirs in pairs(file, text, data):
        cells = mine if mine is not None else theirs
        assert cells is not None
        found[identity] = dict(cells)
    for row in differences():
        if row["file"] == file and row["field"] != "record" and row["right"] == "data":
            if row["data"] == ABSENT:
                found[row["id"]].pop(row["field"], None)
            else:
                found[row["id"]][row["field"]] = row["data"]
    return found


@cache
def data_set(file: str) -> dict[str, Any]:
    """Return the data set's own records of a figure file by its ids."""
    return read(DATA_FOLDER / f"{file}.json")[1]


@cache
def text_only(file: str) -> dict[str, Any]:
    """Return the records of a figure file that only the rules text has."""
    return read(TEXT_FOLDER / f"{file}.json")[1]
