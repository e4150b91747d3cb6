"""Numbers of a build at a level, each with its reasons."""

from engine.sheet.gather import gather
from engine.sheet.gathered import Gathered
from engine.sheet.number import Number, Reason, SheetNote, as_json
from engine.sheet.whole import Sheet, sheet, sheets_of, timeline

__all__ = [
    "Gathered",
    "Number",
    "Reason",
    "Sheet",
    "SheetNote",
    "as_json",
    "gather",
    "sheet",
    "sheets_of",
    "timeline",
]
