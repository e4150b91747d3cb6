"""The catalogue: everything that a rules release and the folios beside it offer, found by id or by name."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from engine.rules.content import (
    ChoiceList,
    ClassContent,
    Condition,
    Creature,
    Entry,
    Feat,
    Feature,
    Item,
    Option,
    Release,
    Species,
    Spell,
    State,
    Subclass,
)
from engine.rules.content.background import Background
from engine.rules.content.entry import Featured
from engine.rules.enchanted import enchantments
from engine.rules.folio import Folio
from engine.rules.grants.choices import Choice
from engine.rules.names import fold, nearest

E = TypeVar("E", bound=Entry)
# Kinds whose entries are no models of their own but words of the release -> where the release keeps them.
WORD_KINDS: Final = {
    "skill": "skills",
    "language": "languages",
    "damage-type": "damage_types",
    "creature-type": "creature_types",
    "humanoid-kind": "humanoid_kinds",
    "weapon-group": "weapon_groups",
    "armor-group": "armor_groups",
}
# Kinds of entries that carry no features.
FEATURELESS: Final = frozenset({"spell", "creature", "state", "condition", "feat"})


@dataclass(frozen=True, slots=True)
class Named:
    """A name that can be looked up: kind, id, name as printed, and the entry behind it (None for plain words).

    owner: of a feature, kind and id of what gives it (`("class", "ranger")`); None for everything else.
    """

    kind: str
    id: str
    name: str
    entry: Entry | None
    folio: str
    owner: tuple[str, str] | None = None


class Shelf:
    """Everything of one kind. by_id: also under `folio/id` and `owner/id`; of several with one id the first counts."""

    __slots__ = ("_names", "all", "by_id")

    def __init__(self, named: Iterable[Named]) -> None:
        self.all: tuple[Named, ...] = tuple(named)
        self.by_id: dict[str, Named] = {}
        self._names: dict[str, list[Named]] | None = None
        for each in self.all:
            self.by_id.setdefault(each.id, each)
            self.by_id.setdefault(f"{each.folio}/{each.id}", each)
            if each.owner is not None:
                self.by_id.setdefault(f"{each.owner[1]}/{each.id}", each)

    def by_name(self) -> dict[str, list[Named]]:
        """Return everything by the folded forms of its names; folding is put off until a name is looked up."""
        if self._names is None:
            names: dict[str, list[Named]] = {}
            for named in self.all:
                also = named.entry.also if named.entry is not None else ()
                for form in {fold(named.name), fold(named.id), *map(fold, also)}:
                    names.setdefault(form, []).append(named)
            self._names = names
        return self._names


class Catalog:
    """Merged view of a release folio and any number of others.

    Ids that two folios give are kept under both `folio/id` forms; the plain id then means the release's entry.
    Features that several owners give under one id (Extra Attack) are kept under `owner/id` too (`ranger/extra-attack`);
    the plain id then means the first of them.
    Kinds are those of `engine.rules.folio.KINDS`, plus `skill`, `language`, `tool`, `damage-type`, `creature-type`,
    `humanoid-kind`, `weapon-group`, `armor-group`, `feature` and one `option:KEYWORD` for every choice list.
    """

    def __init__(self, folios: Sequence[Folio]) -> None:
        """folios: the rules release first, then the others in the order a build names them.

        Raises: ValueError if the first folio is no rules release.
        """
        if not folios or folios[0].release is None:
            raise ValueError("a catalogue needs a folio that is a rules release first")
        self.folios: tuple[Folio, ...] = tuple(folios)
        self.release: Release = folios[0].release
        self._shelves: dict[str, Shelf] = {}
        self._titles: dict[str, str] = {f.id: f.title for f in folios}
        # What a folio bars or takes the place of -> the folios that do so.
        self._hidden: dict[str, set[str]] = {}
        for folio in folios:
            for text in (*folio.header.bars, *folio.header.replaces):
                self._hidden.setdefault(text, set()).add(folio.id)
        self._extra_lists: dict[str, set[str]] = {}
        self._memo: dict[str, Any] = {}
        for folio in folios:
            for class_id, spells in folio.header.lists.items():
                self._extra_lists.setdefault(class_id, set()).update(spells)

    # -- building ---------------------------------------------------------------------------------------------
    # A kind is put together when it is first asked for: most runs look at few kinds, and creatures are many.

    def _shelf(self, kind: str) -> "Shelf":
        shelf = self._shelves.get(kind)
        if shelf is None:
            shelf = self._shelves[kind] = Shelf(n for n in self._filled(kind) if not self._put_aside(n))
        return shelf

    def _put_aside(self, named: Named) -> bool:
        """Tell whether another folio bars this one or takes its place; plain words and features stay."""
        if not self._hidden or named.kind in WORD_KINDS or named.kind == "feature":
            return False
        word = named.kind.removeprefix("option:")
        by = self._hidden.get(named.id, set()) | self._hidden.get(f"{word} {named.id}", set())
        return bool(by - {named.folio})

    def _filled(self, kind: str) -> Iterator[Named]:
        if kind == "item":
            yield from self._items()
        elif kind == "feature":
            yield from self._features()
        elif kind == "tool":
            items = (n for n in self.every("item") if isinstance(n.entry, Item) and n.entry.category == "tool")
            yield from (Named("tool", n.id, n.name, n.entry, n.folio) for n in items)
        elif kind.startswith("option:"):
            for named in self.every("choice-list"):
                if isinstance(named.entry, ChoiceList) and f"option:{named.entry.keyword}" == kind:
                    yield from (Named(kind, o.id, o.name, o, named.folio) for o in named.entry.options)
        elif kind in WORD_KINDS:
            for folio in self.folios:
                words: Iterable[Any] = getattr(folio.release, WORD_KINDS[kind], ())
                yield from (Named(kind, word.id, word.name, None, folio.id) for word in words)
        else:
            for folio in self.folios:
                entries = folio.entries.get(kind, {}).values()
                yield from (Named(kind, e.id, e.name, e, folio.id) for e in entries)

    def _items(self) -> Iterator[Named]:
        made_of: list[tuple[Item, Folio]] = []
        plain: dict[str, Item] = {}
        for folio in self.folios:
            for entry in folio.entries.get("item", {}).values():
                if isinstance(entry, Item) and entry.magic is not None and entry.magic.base:
                    made_of.append((entry, folio))  # its bases may stand in a folio that comes later
                elif isinstance(entry, Item):
                    plain.setdefault(entry.id, entry)
                    plain.setdefault(f"{folio.id}/{entry.id}", entry)
                    yield Named("item", entry.id, entry.name, entry, folio.id)
        for item, folio in made_of:
            for made in enchantments(item, plain.get):
                yield Named("item", made.id, made.name, made, folio.id)

    def _features(self) -> Iterator[Named]:
        kinds = dict.fromkeys(kind for folio in self.folios for kind in folio.entries if kind not in FEATURELESS)
        for kind in kinds:
            # An enchantment's copies for its bases repeat its features; only what stands in a folio gives them.
            made = {id_ for folio in self.folios for id_ in folio.entries.get(kind, {})}
            for owner in self.every(kind):
                entry = owner.entry
                inner: tuple[Feature, ...] = ()
                if isinstance(entry, ChoiceList):
                    inner = entry.options
                elif isinstance(entry, Featured) and owner.id in made:
                    inner = entry.features
                yield from (Named("feature", f.id, f.name, f, owner.folio, (kind, owner.id)) for f in inner)

    # -- looking up -------------------------------------------------------------------------------------------

    def named(self, kind: str, id_: str) -> Named | None:
        """Return what an id of a kind stands for, or None if no folio gives it."""
        return self._shelf(kind).by_id.get(id_)

    def find(self, kind: str, name: str) -> list[Named]:
        """Return every entry of a kind whose name or id matches, whatever the case, accents, apostrophes or plural.

        More than one is returned only if two folios give the name, or two owners a feature; `folio/name` and
        `owner/name` (`Ranger/Extra Attack`) pick out of them.
        """
        if "/" in name:
            before, _, plain = name.partition("/")
            found = self._shelf(kind).by_name().get(fold(plain), [])
            mine = [n for n in found if fold(n.folio) == fold(before)] or [
                n for n in found if n.owner is not None and fold(before) in self._names_of(*n.owner)
            ]
            if mine:
                return mine
        return list(self._shelf(kind).by_name().get(fold(name), []))

    def _names_of(self, kind: str, id_: str) -> set[str]:
        owner = self.named(kind, id_)
        also = owner.entry.also if owner is not None and owner.entry is not None else ()
        return {fold(id_), *map(fold, also), *([fold(owner.name)] if owner is not None else ())}

    def suggest(self, kind: str, name: str, limit: int = 3) -> list[str]:
        """Return the printed names of a kind nearest to the given one, best first."""
        return nearest(name, self.names(kind), limit)

    def names(self, kind: str) -> list[str]:
        """Return every printed name of a kind, in the order of the folios."""
        return list(dict.fromkeys(n.name for n in self.every(kind)))

    def every(self, kind: str) -> Iterator[Named]:
        """Yield everything of a kind once; features once for each owner that gives them."""
        yield from self._shelf(kind).all

    def name_of(self, kind: str, id_: str) -> str:
        """Return the printed name of an id; the id itself where the content is missing."""
        named = self.named(kind, id_)
        return named.name if named else id_

    def _get(self, kind: str, id_: str, model: type[E]) -> E | None:
        named = self.named(kind, id_)
        return named.entry if named is not None and isinstance(named.entry, model) else None

    def class_(self, id_: str) -> ClassContent | None:
        """Return a class by id."""
        return self._get("class", id_, ClassContent)

    def subclass(self, id_: str) -> Subclass | None:
        """Return a subclass by id; its `of` names its class."""
        return self._get("subclass", id_, Subclass)

    def subclasses(self, class_id: str) -> list[Subclass]:
        """Return the subclasses of a class, those of other folios included."""
        return [n.entry for n in self.every("subclass") if isinstance(n.entry, Subclass) and n.entry.of == class_id]

    def species(self, id_: str) -> Species | None:
        """Return a species or subspecies by id."""
        return self._get("species", id_, Species)

    def subspecies(self, species_id: str) -> list[Species]:
        """Return the subspecies of a species."""
        return [n.entry for n in self.every("species") if isinstance(n.entry, Species) and n.entry.of == species_id]

    def background(self, id_: str) -> Background | None:
        """Return a background by id."""
        return self._get("background", id_, Background)

    def feat(self, id_: str) -> Feat | None:
        """Return a feat by id."""
        return self._get("feat", id_, Feat)

    def spell(self, id_: str) -> Spell | None:
        """Return a spell by id."""
        return self._get("spell", id_, Spell)

    def item(self, id_: str) -> Item | None:
        """Return an item by id."""
        return self._get("item", id_, Item)

    def creature(self, id_: str) -> Creature | None:
        """Return a creature by id."""
        return self._get("creature", id_, Creature)

    def state(self, id_: str) -> State | None:
        """Return a state or condition by id."""
        return self._get("state", id_, State) or self._get("condition", id_, Condition)

    def option(self, keyword: str, id_: str) -> Option | None:
        """Return an option of a choice list by the list's keyword and the option's id."""
        return self._get(f"option:{keyword}", id_, Option)

    def feature(self, id_: str) -> Feature | None:
        """Return a feature by id (or `owner/id`), whoever gives it."""
        return self._get("feature", id_, Feature)

    def choice_list(self, keyword: str) -> ChoiceList | None:
        """Return the choice list picked under an outline keyword (singular)."""
        return self._choice_lists().get(keyword)

    def keywords(self) -> tuple[str, ...]:
        """Return the outline keywords that content adds, in singular form."""
        return tuple(self._choice_lists())

    def _choice_lists(self) -> dict[str, ChoiceList]:
        if "choice-lists" not in self._memo:
            lists: dict[str, ChoiceList] = {}
            for named in self.every("choice-list"):
                if isinstance(named.entry, ChoiceList):
                    lists.setdefault(named.entry.keyword, named.entry)
            self._memo["choice-lists"] = lists
        found: dict[str, ChoiceList] = self._memo["choice-lists"]
        return found

    def widened(self, choice: Choice, owner: str | None) -> Choice:
        """Return a choice of a class that names what may be picked, with the options that offer themselves to it."""
        if not choice.from_ or owner is None:
            return choice
        key = f"offered:{choice.keyword}"
        if key not in self._memo:
            options = ((n.id, n.entry) for n in self.every(f"option:{choice.keyword}"))
            self._memo[key] = [(id_, o.offered_to) for id_, o in options if isinstance(o, Option) and o.offered_to]
        more = tuple(id_ for id_, to in self._memo[key] if owner in to and id_ not in choice.from_)
        return choice.model_copy(update={"from_": (*choice.from_, *more)}) if more else choice

    def on_list(self, spell: Spell, class_id: str) -> bool:
        """Tell whether a spell is on a class's spell list, also by the addition of a folio."""
        return class_id in spell.classes or spell.id in self._extra_lists.get(class_id, ())

    def spells_of(self, class_id: str) -> list[Spell]:
        """Return a class's spell list, by level and name."""
        key = f"spells:{class_id}"
        if key not in self._memo:
            spells = [n.entry for n in self.every("spell") if isinstance(n.entry, Spell)]
            mine = [s for s in spells if self.on_list(s, class_id)]
            self._memo[key] = sorted(mine, key=lambda s: (s.level, s.name))
        return list(self._memo[key])

    def folio_of(self, kind: str, id_: str) -> Folio | None:
        """Return the folio that gives an entry."""
        named = self.named(kind, id_)
        return next((f for f in self.folios if named and f.id == named.folio), None)

    # -- sources ----------------------------------------------------------------------------------------------

    def source(self, kind: str, id_: str, feature: str | None = None) -> str:
        """Return where a fact stands: `SRD 5.1, Classes, Rogue, Reliable Talent`.

        kind, id_: the owner (class, species, spell...). feature: name of one of its features, if it is one.
        """
        named = self.named(kind, id_)
        if named is None:
            return f"{self.folios[0].title}, {id_}"
        if named.owner is not None:
            return self.source(*named.owner, named.name)
        parts = [self._titles[named.folio]]
        if named.entry is not None and named.entry.section:
            parts.append(named.entry.section)
        parts.append(named.name)
        if feature and feature != named.name:
            parts.append(feature)
        return ", ".join(parts)

    def rule(self, key: str) -> str:
        """Return where a release-wide rule stands: key `multiclass-slots` gives `SRD 5.1, Multiclassing, Spell Slots`.

        Raises: KeyError for a key that the release does not list (a test holds the keys the engine uses).
        """
        return f"{self.folios[0].title}, {self.release.sections[key]}"
