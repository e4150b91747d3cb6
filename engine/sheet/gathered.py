"""What the walk over a build finds: grants with their levels, choices with their answers, spells, gear."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from engine.build.document import Build, Pick
from engine.rules.catalog import Catalog
from engine.rules.content import ClassContent, Item, Subclass
from engine.rules.grants import AnyGrant
from engine.rules.grants.choices import Choice
from engine.rules.words import Ability

LAST_LEVEL: Final = 20
Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Granted:
    """One grant that holds for a span of character levels.

    label: name of what gives it (feature, option, feat, item or pick). source: where that stands in the release.
    since, until: first and last character level at which it holds (both inclusive). owner: class id whose level
    `class_level` and `column(...)` mean, None for species, background, feats and items (their level is the
    character's). origin: id of the feature or item. state: id of the state that must be switched on, if any.
    item: JSON pointer of the gear pick that gives it; of a weapon's own attack grants, which hold for it alone.
    starts: level of the owner from which `each-level` amounts count.
    """

    grant: AnyGrant
    label: str
    source: str
    since: int
    until: int = LAST_LEVEL
    owner: str | None = None
    origin: str = ""
    state: str | None = None
    item: str | None = None
    starts: int = 1


@dataclass(frozen=True, slots=True)
class Picked:
    """One pick as it stands on the build: where (JSON pointer), at which character level, of which class.

    keyword: as in the outline; `increase` for `+N ABILITY` (pick.id is the ability, pick.count the points), `swap`
    never: both sides carry the keyword they were picked under. swapped_out: character level at which a swap (or the
    next whole list) took it away, None while it stays. by_swap: whether it came by one; then swapped_for is the id
    that went.
    """

    keyword: str
    pick: Pick
    path: str
    level: int
    owner: str | None
    swapped_out: int | None = None
    by_swap: bool = False
    swapped_for: str | None = None


@dataclass(frozen=True, slots=True)
class Opened:
    """A choice that a feature opens.

    level: character level at which it opens (1 for species and background). owner, label, source: as in Granted.
    place: JSON pointer of the part of the document where it is answered (`/levels/rogue/1`, `/species`,
    `/background`, or a pick with parentheses). count: new picks it asks for at that level; for `increase` the number
    of improvements, each worth `choice.amount` points. picks: those found there that answer it (never more than
    count, for `increase` never more points than count x amount; what is too much stands in `Gathered.spare`).
    Choices made by a Spellcasting grant are Choice models too: keyword `cantrip` or `spell` (the book of a wizard)
    with `spell_level` None, which means up to `casting.CLASS.top_level`. A background of one's own opens
    `tool-or-language`, answered under either keyword.
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
class Learned:
    """A spell that the build has for a span of levels.

    how: `known` (learned, a cantrip or a secret), `book` (in the book), `prepared` (on a list written with
    `prepare`), `always` (prepared without being counted), `innate`, `listed` (only added to the list to choose from).
    owner: class it belongs to. ability, casting: of spells that no class brings.
    """

    spell: str
    how: Literal["known", "book", "prepared", "always", "innate", "listed"]
    owner: str | None
    since: int
    until: int
    label: str
    source: str
    ability: Ability | None = None
    casting: str | None = None


@dataclass(frozen=True, slots=True)
class Carried:
    """A thing among the gear. key: JSON pointer of the pick that brought it; item: None if no folio gives it."""

    key: str
    pick: Pick
    item: Item | None
    count: int
    flags: frozenset[str]

    @property
    def held_by_hand(self) -> bool:
        """Whether it is a weapon."""
        return self.item is not None and self.item.weapon is not None

    @property
    def attuned(self) -> bool:
        """Whether the build is attuned to it."""
        return "attuned" in self.flags

    @property
    def works(self) -> bool:
        """Whether its magic works for the build: attuned, or in no need of that."""
        magic = self.item.magic if self.item is not None else None
        return magic is None or not magic.attunement or self.attuned

    @property
    def name(self) -> str:
        """Its printed name, with the magic bonus."""
        name = self.item.name if self.item is not None else self.pick.id
        return f"{name} +{self.pick.bonus}" if self.pick.bonus else name


@dataclass(frozen=True, slots=True)
class Outfit:
    """The gear between two changes of it, levels inclusive, in the order in which it came.

    armor, shield: what is worn. main: the weapon in the main hand. off_hand: the one marked so.
    worn: all other things that are worn.
    """

    since: int
    until: int
    carried: tuple[Carried, ...]
    armor: Carried | None = None
    shield: Carried | None = None
    main: Carried | None = None
    off_hand: Carried | None = None
    worn: tuple[Carried, ...] = ()

    @property
    def weapons(self) -> tuple[Carried, ...]:
        """All weapons, the main hand first."""
        found = [c for c in self.carried if c.held_by_hand]
        return tuple(sorted(found, key=lambda c: c is not self.main))

    @property
    def in_use(self) -> tuple[Carried, ...]:
        """Everything whose features can hold: worn or in a hand."""
        some = (self.armor, self.shield, self.main, self.off_hand)
        return (*(c for c in some if c is not None), *self.worn)


@dataclass(frozen=True, slots=True)
class MissingContent:
    """An id of the build that no folio of its catalogue gives."""

    kind: str
    id: str
    level: int | None
    path: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """A feature that is not gained because one of its family was gained before (a second Unarmored Defense)."""

    label: str
    source: str
    level: int
    holds: str


@dataclass(frozen=True, slots=True)
class Gathered:
    """Everything that follows from a build before any number is worked out.

    spare: picks that answer no open choice; they give nothing. gifts: picks that the GM granted (they need no
    choice). held: id of every feature, option, feat, species, subclass, background -> the levels at which it holds.
    levels_at: class id -> character level of its 1st, 2nd... level. idle: states asked for that the build cannot be
    in, as (id, level from which it could or None). overfull: content gives more than one build can take in, and what
    came after that counts for nothing.
    """

    build: Build
    catalog: Catalog
    grants: tuple[Granted, ...]
    opened: tuple[Opened, ...]
    picked: tuple[Picked, ...]
    spare: tuple[Picked, ...]
    missing: tuple[MissingContent, ...]
    classes: Mapping[str, ClassContent] = field(default_factory=dict)
    subclasses: Mapping[str, Subclass] = field(default_factory=dict)
    spells: tuple[Learned, ...] = ()
    outfits: tuple[Outfit, ...] = ()
    gifts: tuple[Picked, ...] = ()
    refused: tuple[Refusal, ...] = ()
    held: Mapping[str, tuple[Span, ...]] = field(default_factory=dict)
    levels_at: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    states: tuple[str, ...] = ()
    idle: tuple[str, ...] = ()
    overfull: bool = False

    @property
    def innate(self) -> tuple[Learned, ...]:
        """The spells with a casting ability of their own."""
        return tuple(s for s in self.spells if s.casting is not None)

    def has(self, id_: str, level: int) -> bool:
        """Tell whether a feature, option, feat or origin of this id holds at a character level."""
        return any(since <= level <= until for since, until in self.held.get(id_, ()))

    def class_level(self, class_id: str, level: int) -> int:
        """Return the levels of a class held at a character level."""
        return sum(1 for at in self.levels_at.get(class_id, ()) if at <= level)

    def column(self, class_id: str, name: str, class_level: int) -> int | str:
        """Return the cell of a class's table at a class level, subclass columns included; 0 for a dash or no column."""
        for owner in (self.classes.get(class_id), self.subclasses.get(class_id)):
            cells = owner.tables.get(name) if owner is not None else None
            if cells is not None and 1 <= class_level <= len(cells):
                return cells[class_level - 1] or 0
        return 0

    def outfit(self, level: int) -> Outfit:
        """Return the gear at a character level."""
        for outfit in self.outfits:
            if outfit.since <= level <= outfit.until:
                return outfit
        return Outfit(1, LAST_LEVEL, ())
