"""What every check reads: the build, what follows from it, its sheets, and under which rules it is looked at."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, Self

from engine.audit.table import TableRules
from engine.build.document import Build
from engine.rules.catalog import Catalog
from engine.rules.grants.casting import Spellcasting
from engine.rules.grants.proficiencies import Proficiency
from engine.rules.words import ABILITIES, Ability
from engine.sheet import Sheet, sheets_of
from engine.sheet.gather import gather
from engine.sheet.gathered import Gathered, Granted, Opened, Picked
from engine.sheet.number import Number

# Witnessed rolls of the server by number: six scores, or one hit-point die.
Rolls = Mapping[int, tuple[int, ...]]
NO_METHOD: Final = "common practice"


@dataclass(frozen=True)
class AuditContext:
    """One build ready to be looked at.

    given: sheets of levels 1 to the build's last, if they are at hand; else they are made when first needed.
    table: rules of the table it is meant for, if any. rolls: witnessed rolls by number, None where none can be
    looked up (then cited rolls are taken as they are).
    """

    build: Build
    catalog: Catalog
    gathered: Gathered
    given: tuple[Sheet, ...] | None = None
    table: TableRules | None = None
    rolls: Rolls | None = None
    _proficient: dict[int, Mapping[str, frozenset[str]]] = field(default_factory=dict, compare=False, repr=False)

    @classmethod
    def of(
        cls,
        build: Build,
        catalog: Catalog,
        table: TableRules | None = None,
        rolls: Rolls | None = None,
        sheets: tuple[Sheet, ...] | None = None,
    ) -> Self:
        """Return the context of a build, working out what is not given."""
        return cls(build, catalog, gather(build, catalog), sheets, table, rolls)

    # -- numbers ------------------------------------------------------------------------------------------------

    @cached_property
    def sheets(self) -> tuple[Sheet, ...]:
        """The sheets of levels 1 to the build's last."""
        return self.given if self.given is not None else sheets_of(self.gathered)

    @property
    def levels(self) -> range:
        """The levels that have a sheet."""
        return range(1, len(self.sheets) + 1)

    def number(self, level: int, name: str) -> Number | None:
        """Return a number of the sheet of a level; None where it does not apply."""
        return self.sheets[level - 1].numbers.get(name) if 1 <= level <= len(self.sheets) else None

    def value(self, level: int, name: str) -> int | None:
        """Return a whole number of the sheet of a level; None where it does not apply or is no whole number."""
        number = self.number(level, name)
        return number.value if number is not None and isinstance(number.value, int) else None

    def score(self, level: int, ability: Ability) -> int | None:
        """Return an ability score at a level; None for a build without scores."""
        return self.value(level, f"ability.{ability}.score") if self.build.scores is not None else None

    # -- what the build has --------------------------------------------------------------------------------------

    @cached_property
    def lines(self) -> tuple[tuple[int, str, int], ...]:
        """(character level, class id, nth level of it) of every line."""
        return tuple((level, class_id, nth) for level, class_id, nth, _ in self.build.lines())

    def class_name(self, class_id: str) -> str:
        """Return a class's printed name."""
        return self.catalog.name_of("class", class_id)

    def grants_at(self, level: int) -> Iterator[Granted]:
        """Yield the grants whose span holds a level, states not switched on."""
        return (g for g in self.gathered.grants if g.since <= level <= g.until and g.state is None)

    def owner_level(self, granted: Granted, level: int) -> int:
        """Return the level that a grant's own levels are counted in, at a character level."""
        return level if granted.owner is None else self.gathered.class_level(granted.owner, level)

    def knows(self, spell_id: str, level: int) -> bool:
        """Tell whether a spell is learned, in the book, prepared or innate at a level."""
        return any(
            s.spell == spell_id and s.how != "listed" and s.since <= level <= s.until for s in self.gathered.spells
        )

    def has_spell(self, spell_id: str, owner: str | None, level: int) -> bool:
        """Tell whether one class (None: the species, a feat) has learned a spell or put it in its book by a level."""
        return any(
            s.spell == spell_id
            and s.owner == owner
            and s.how in ("known", "book", "always")
            and s.since <= level <= s.until
            for s in self.gathered.spells
        )

    def proficient(self, kind: str, id_: str, level: int) -> bool:
        """Tell whether the build is proficient in a thing of a kind (`skill`, `tool`, `weapon`...) at a level."""
        return id_ in self.proficiencies(level).get(kind, frozenset())

    def proficiencies(self, level: int) -> Mapping[str, frozenset[str]]:
        """Return kind -> ids of everything the build is proficient in at a level."""
        known = self._proficient.get(level)
        if known is None:
            found: dict[str, set[str]] = {}
            for granted in self.grants_at(level):
                if isinstance(granted.grant, Proficiency):
                    found.setdefault(granted.grant.of, set()).update(granted.grant.ids)
            known = self._proficient[level] = {kind: frozenset(ids) for kind, ids in found.items()}
        return known

    @cached_property
    def proficiency_grants(self) -> Mapping[tuple[str, str], list[Granted]]:
        """(kind, id) -> every grant of proficiency in it, states not switched on, in the order in which they come."""
        found: dict[tuple[str, str], list[Granted]] = {}
        for granted in self.gathered.grants:
            if isinstance(granted.grant, Proficiency) and granted.state is None:
                for id_ in granted.grant.ids:
                    found.setdefault((granted.grant.of, id_), []).append(granted)
        return found

    @cached_property
    def casting(self) -> Mapping[str, Granted]:
        """Class id -> its spellcasting grant (the first, should it have several)."""
        found: dict[str, Granted] = {}
        for granted in self.gathered.grants:
            if isinstance(granted.grant, Spellcasting) and granted.owner is not None:
                found.setdefault(granted.owner, granted)
        return found

    def preparation(self, class_id: str | None) -> str | None:
        """Return how a class readies its spells (`known`, `prepared`, `book`); None if it casts none."""
        granted = self.casting.get(class_id or "")
        return granted.grant.preparation if granted is not None and isinstance(granted.grant, Spellcasting) else None

    def spell_list(self, class_id: str) -> str:
        """Return the id of the spell list a class casts from; its own id if it casts none."""
        granted = self.casting.get(class_id)
        return granted.grant.list if granted is not None and isinstance(granted.grant, Spellcasting) else class_id

    @cached_property
    def _picks(self) -> tuple[Mapping[tuple[str, str], list[Picked]], Mapping[str, Picked]]:
        by_name: dict[tuple[str, str], list[Picked]] = {}
        for picked in self.gathered.picked:
            by_name.setdefault((picked.keyword, picked.pick.id), []).append(picked)
        return by_name, {picked.path: picked for picked in self.gathered.picked}

    def standing(self, keyword: str, id_: str, level: int) -> list[Picked]:
        """Return the picks of a thing under a keyword that stand at a level, in the order in which they were made."""
        picks = self._picks[0].get((keyword, id_), ())
        return [p for p in picks if p.level <= level and (p.swapped_out is None or p.swapped_out > level)]

    def pick_at(self, path: str) -> Picked | None:
        """Return the pick at a JSON pointer."""
        return self._picks[1].get(path)

    @cached_property
    def _gone(self) -> tuple[str, ...]:
        # Of a class or subclass that is not there, every line of the class is without meaning.
        return tuple(
            m.path.rsplit("/", 1)[0] if m.kind in ("class", "subclass") else m.path
            for m in self.gathered.missing
            if m.path
        )

    def orphaned(self, path: str) -> bool:
        """Tell whether a part of the document belongs to content that no folio gives, so that nothing can be said."""
        return any(path == gone or path.startswith(f"{gone}/") for gone in self._gone)

    @cached_property
    def _answered(self) -> Mapping[str, Opened]:
        return {picked.path: opened for opened in self.gathered.opened for picked in opened.picks}

    def opened_by(self, picked: Picked) -> Opened | None:
        """Return the choice that a pick answers."""
        return self._answered.get(picked.path)

    def opened_source(self, picked: Picked) -> str:
        """Return where the choice that a pick answers stands."""
        opened = self.opened_by(picked)
        if opened is not None:
            return opened.source
        return self.class_source(picked.owner) if picked.owner else self.catalog.rule("class-features")

    def scores_before(self, level: int) -> Mapping[Ability, int]:
        """Return the scores before a level's own increases: those of the level before, at level 1 those of level 1."""
        at = max(1, level - 1)
        return {a: s for a in ABILITIES if (s := self.score(at, a)) is not None}

    # -- sources -------------------------------------------------------------------------------------------------

    @cached_property
    def scores_source(self) -> str:
        """Where the ways of making scores stand; they may be printed elsewhere than in the build's own release."""
        section = self.catalog.release.scores.section
        return section if section.startswith(NO_METHOD) else f"{self.catalog.folios[0].title}, {section}"

    def class_source(self, class_id: str, part: str | None = None) -> str:
        """Return where a class, or one part of it, stands."""
        return self.catalog.source("class", class_id, part)
