"""Shared shape of the figure files: a header record and one record a line, compact JSON.

Both readers (`from_text.py`, `from_data.py`) write through this module, so that the two sets of
files differ only in what their sources say. Imports nothing of the project.
"""

from __future__ import annotations

import json
import os
import re
import unicodedata
from pathlib import Path
from typing import Any

Record = dict[str, Any]

HERE = Path(__file__).resolve().parent
TEXT_FOLDER = HERE / "srd-5.1-text"
DATA_FOLDER = HERE / "srd-5.1-data"

CLASSES = (
    "barbarian", "bard", "cleric", "druid", "fighter", "monk",
    "paladin", "ranger", "rogue", "sorcerer", "warlock", "wizard",
)  # fmt: skip
ABILITIES = {
    "strength": "str",
    "dexterity": "dex",
    "constitution": "con",
    "intelligence": "int",
    "wisdom": "wis",
    "charisma": "cha",
}


def reference_folder() -> Path:
    """The folder of large source documents: BUILDMOOT_REFERENCE, else ../shared/reference of the repository."""
    given = os.environ.get("BUILDMOOT_REFERENCE")
    if given:
        return Path(given)
    return HERE.parents[1] / ".." / "shared" / "reference"


def slug(name: str) -> str:
    """Kebab-case of an English name: accents and apostrophes dropped, every other run of signs one hyphen."""
    bare = re.sub(r"['’`]", "", unicodedata.normalize("NFKD", name))
    letters = bare.encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", letters).strip("-")


def plain(text: str) -> str:
    """Text with curly quotes, dashes, emphasis marks and runs of spaces made plain; case kept."""
    for odd, usual in (("’", "'"), ("‘", "'"), ("“", '"'), ("”", '"'), ("−", "-"), ("–", "-"), ("—", "--")):
        text = text.replace(odd, usual)
    text = text.replace("\u00ad", "").replace("\u00a0", " ").replace("*", "")
    return re.sub(r"\s+", " ", text).strip()


def render(header: Record, records: list[Record]) -> str:
    """The text of one figure file: `header` first, then the records in order of their id."""
    ordered = sorted(records, key=lambda record: str(record["id"]))
    lines = [json.dumps(line, ensure_ascii=False, separators=(",", ":")) for line in [header, *ordered]]
    return "[\n" + ",\n".join(lines) + "\n]\n"


def read(path: Path) -> tuple[Record, dict[str, Record]]:
    """Header and records (by id) of one figure file."""
    header, *records = json.loads(path.read_text(encoding="utf-8"))
    return header, {record["id"]: record for record in records}
