"""What every content model shares: frozen, closed to unknown keys, built late so that a warm start stays short."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from engine.rules.names import FOLIO_PATTERN, ID_PATTERN

Id = Annotated[str, StringConstraints(pattern=rf"^(?:{FOLIO_PATTERN}/)?{ID_PATTERN}$", max_length=80)]
FolioId = Annotated[str, StringConstraints(pattern=rf"^{FOLIO_PATTERN}$", max_length=60)]
Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80)]
Remark = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=240)]
Dice = Annotated[str, StringConstraints(pattern=r"^[1-9]\d{0,2}d[1-9]\d{0,2}$")]
Level = Annotated[int, Field(ge=1, le=20)]


class Content(BaseModel):
    """One frozen piece of rules content. Unknown keys are errors, so a misspelt fact cannot get lost."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)
