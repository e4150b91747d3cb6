"""What every entry of a folio has: an id, a name, where it stands in the release; and features."""

from typing import Self

from pydantic import Field, model_validator

from engine.rules.base import Content, Id, Level, Name, Remark
from engine.rules.grants import Grant


class Entry(Content):
    """One named thing of a folio.

    section: where it stands in the published release, from the outside in (`Classes, Rogue`); sources shown to
    members are made of the folio's title and this. summary: one short line in the folio author's own words.
    also: other names that people write for it.
    """

    id: Id
    name: Name
    section: Name | None = None
    summary: Remark | None = None
    also: tuple[Name, ...] = ()


class Feature(Entry):
    """A feature, trait or benefit: what it gives as typed grants, or why it has no number.

    level: level of its owner at which it is gained. no_number: the reason why nothing (or not everything) of it is a
    number the engine works out. replaces: id of a feature of the same owner that no longer holds from then on.
    """

    level: Level = 1
    grants: tuple[Grant, ...] = ()
    no_number: Remark | None = None
    replaces: Id | None = None

    @model_validator(mode="after")
    def _typed_or_explained(self) -> Self:
        if not self.grants and self.no_number is None:
            raise ValueError(f"feature `{self.id}` needs `grants`, or `no_number` with the reason why it has none")
        return self


class Featured(Entry):
    """An entry that carries features."""

    features: tuple[Feature, ...] = Field(default=())
