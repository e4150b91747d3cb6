"""From a build to what its features give: every grant with the levels at which it holds, every choice with its answer.

This is the one walk over a build. The sheet reads the grants, the audit reads the choices and their picks, the cards
read what is open at a level.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from engine.build.document import Build, Pick
from engine.rules.catalog import Catalog
from engine.rules.content import ClassContent, Subclass
from engine.rules.grants import AnyGrant
from engine.rules.grants.choices import Choice


@dataclass(frozen=True, slots=True)
class Granted:
    """One grant that holds for a span of character levels.

    label: name of what gives it (feature, option, feat, item or pick). source: where that stands in the release.
    since, until: first and last character level at which it holds (both inclusive). owner: class id whose level
    `class_level` and `column(...)` mean, None for species, background, feats and items (their level is the
    character's). origin: id of the feature or item. state: id of the state that must be switched on, if any.
    table: columns of the owner's table, subclass columns included.
    """

    grant: AnyGrant
    label: str
    source: str
    since: int
    until: int = 20
    owner: str | None = None
    origin: str = ""
    state: str | None = None


@dataclass(frozen=True, slots=True)
class Picked:
    """One pick as it stands on the build: where (JSON pointer), at which character level, of which class.

    swapped_out: character level at which a swap took it away, None while it stays. by_swap: whether it came by one.
    """

    keyword: str
    pick: Pick
    path: str
    level: int
    owner: str | None
    swapped_out: int | None = None
    by_swap: bool = False


@dataclass(frozen=True, slots=True)
class Opened:
    """A choice that a feature opens.

    level: character level at which it opens (1 for species and background). owner, label, source: as in Granted.
    place: JSON pointer of the part of the document where it is answered (`/levels/rogue/1`, `/species`,
    `/background`, or a pick with parentheses). count: new picks it asks for at that level. picks: those found there
    that answer it (never more than count; what is too much stands in `Gathered.spare`).
    """

    choice: Choice
    level: int
    owner: str | None
    label: str
    source: str
    place: str
    count: int
    picks: tuple[Picked, ...] = ()


@dataclass(frozen=True, slots=True)
class MissingContent:
    """An id of the build that no folio of its catalogue gives."""

    kind: str
    id: str
    level: int | None
    path: str


@dataclass(frozen=True, slots=True)
class Gathered:
    """Everything that follows from a build before any number is worked out."""

    build: Build
    catalog: Catalog
    grants: tuple[Granted, ...]
    opened: tuple[Opened, ...]
    picked: tuple[Picked, ...]
    spare: tuple[Picked, ...]
    missing: tuple[MissingContent, ...]
    classes: Mapping[str, ClassContent] = field(default_factory=dict)
    subclasses: Mapping[str, Subclass] = field(default_factory=dict)
