"""Write-ups: Markdown texts whose numbers are links with their meaning as target, `[+7](num:4/skill.stealth)`."""

from engine.publish.writeup.check import Checked, Wrong, check
from engine.publish.writeup.draft import draft
from engine.publish.writeup.fill import Filled, fill, strip
from engine.publish.writeup.marks import Mark, Scanned, scan
from engine.publish.writeup.reading import LONGEST, decoded
from engine.publish.writeup.unmarked import Unmarked

__all__ = [
    "LONGEST",
    "Checked",
    "Filled",
    "Mark",
    "Scanned",
    "Unmarked",
    "Wrong",
    "check",
    "decoded",
    "draft",
    "fill",
    "scan",
    "strip",
]
