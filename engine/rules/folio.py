"""A folio in memory: header, entries by kind and id, and the hash of the files it came from."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Final

from pydantic import Field, StringConstraints

from engine.rules.base import Content, FolioId, Id, Name, Shown
from engine.rules.content import ClassContent, Entry, Release, Species
from engine.rules.names import ID_PATTERN

HEADER: Final = "folio.yaml"

# Folder -> kind of its entries, the word used by catalogues, error sentences and `buildmoot facts`.
KINDS: Final[dict[str, str]] = {
    "classes": "class",
    "subclasses": "subclass",
    "species": "species",
    "backgrounds": "background",
    "feats": "feat",
    "choices": "choice-list",
    "spells": "spell",
    "items": "item",
    "creatures": "creature",
    "states": "state",
    "conditions": "condition",
}


# `fire-bolt`, or with its kind (or the keyword of its choice list) where several things have the id: `style archery`.
Hidden = Annotated[str, StringConstraints(pattern=rf"^(?:{ID_PATTERN} )?{ID_PATTERN}$", max_length=120)]


class FolioHeader(Content):
    """`folio.yaml`: who made it, under which licence, and which rules release it extends (None: it is one).

    bars: what of other folios it takes out of use. replaces: what of other folios its own content of the same id
    takes the place of. lists: spell list by class id -> spells it adds.
    """

    id: FolioId
    title: Name
    version: Annotated[str, StringConstraints(min_length=1, max_length=40), Shown]
    licence: Annotated[str, StringConstraints(min_length=1, max_length=200), Shown]
    attribution: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    author: Name | None = None
    extends: FolioId | None = None
    bars: tuple[Hidden, ...] = Field(default=(), max_length=1000)
    replaces: tuple[Hidden, ...] = Field(default=(), max_length=1000)
    lists: dict[Id, tuple[Id, ...]] = Field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FolioProblem:
    """One thing wrong in a folio's files. line counts from 1; 0 where no line can be named."""

    file: str
    line: int
    sentence: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.sentence}" if self.line else f"{self.file}: {self.sentence}"


@dataclass(frozen=True, slots=True)
class Folio:
    """One bundle of rules content, validated. entries: kind -> id -> entry; subclasses and subspecies are lifted
    out of their owners' files, with `of` filled in."""

    header: FolioHeader
    hash: str
    entries: Mapping[str, Mapping[str, Entry]] = field(default_factory=dict)
    release: Release | None = None

    @property
    def id(self) -> str:
        """The folio's id, as builds name it."""
        return self.header.id

    @property
    def title(self) -> str:
        """The title that opens every source, such as `SRD 5.1`."""
        return self.header.title

    def all(self) -> Iterator[tuple[str, Entry]]:
        """Yield every entry with its kind, in the order of the files."""
        for kind, entries in self.entries.items():
            for entry in entries.values():
                yield kind, entry


def folio_hash(files: Mapping[str, bytes]) -> str:
    """Return the SHA-256 of a folio's files: names and bytes, in order of name."""
    digest = hashlib.sha256()
    for path in sorted(files):
        digest.update(f"{path}\0{len(files[path])}\0".encode())
        digest.update(files[path])
    return digest.hexdigest()


def _inside(entry: Entry) -> str:
    return f"{entry.section}, {entry.name}" if entry.section else entry.name


def lifted(kind: str, entry: Entry) -> Iterator[tuple[str, Entry]]:
    """Yield the entry and those that stand inside it as entries of their own."""
    yield kind, entry
    if isinstance(entry, ClassContent):
        for subclass in entry.subclasses:
            yield (
                "subclass",
                subclass.model_copy(update={"of": entry.id, "section": subclass.section or _inside(entry)}),
            )
    elif isinstance(entry, Species):
        for inner in entry.subspecies:
            yield (
                "species",
                inner.model_copy(update={"of": entry.id, "section": inner.section or _inside(entry)}),
            )
