"""What every content model shares: frozen, closed to unknown keys, built late so that a warm start stays short."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from engine.rules.limits import MAX_CELL, MAX_DICE, MAX_SIDES
from engine.rules.names import FOLIO_PATTERN, ID_PATTERN


def _shown(text: str) -> str:
    # Marks that turn the direction of writing or cannot be seen could make one name look like another.
    if not text.isprintable():
        raise ValueError("the text has a line break or a sign that cannot be seen; write it in one line of plain signs")
    return text


def _dice(text: str) -> str:
    count, sides = (int(part) for part in text.split("d"))
    if count > MAX_DICE or sides > MAX_SIDES:
        raise ValueError(f"`{text}` is out of bounds; dice go up to {MAX_DICE}d{MAX_SIDES}")
    return text


Shown = AfterValidator(_shown)
Id = Annotated[str, StringConstraints(pattern=rf"^(?:{FOLIO_PATTERN}/)?{ID_PATTERN}$", max_length=80)]
FolioId = Annotated[str, StringConstraints(pattern=rf"^{FOLIO_PATTERN}$", max_length=60)]
Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80), Shown]
Remark = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=240), Shown]
Dice = Annotated[str, StringConstraints(pattern=r"^[1-9]\d{0,2}d[1-9]\d{0,2}$"), AfterValidator(_dice)]
Column = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(?:_[a-z0-9]+)*$", max_length=40)]
Words = Annotated[str, StringConstraints(min_length=1, max_length=120), Shown]
Small = Annotated[int, Field(ge=-MAX_CELL, le=MAX_CELL)]
Level = Annotated[int, Field(ge=1, le=20)]


class Content(BaseModel):
    """One frozen piece of rules content. Unknown keys are errors, so a misspelt fact cannot get lost."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)
