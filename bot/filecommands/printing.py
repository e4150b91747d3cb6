"""Printing results: one JSON document, or short text for people."""

import json
from typing import Any

from engine.sheet.number import Number, SheetNote


def print_json(document: Any) -> None:
    """Print one JSON document on standard output."""
    print(json.dumps(document, ensure_ascii=False, indent=1))


def note_json(note: SheetNote) -> dict[str, str]:
    """Return the outside form of a note."""
    return {"label": note.label, "text": note.text, "source": note.source}


def number_text(name: str, number: Number) -> str:
    """Return a number with its little sum: `skill.stealth +9 points: +3 Dexterity 17, +3 proficiency bonus...`."""
    dice = f" ({number.dice})" if number.dice else ""
    parts = ", ".join(f"{amount(r.amount)} {r.label}" for r in number.reasons)
    return f"{name:34} {number.value}{dice} {number.unit}: {parts}"


def amount(value: float | str) -> str:
    """Return an amount with its sign; dice and words as they are."""
    return value if isinstance(value, str) else f"{value:+g}"
