"""From a build to what its features give: every grant with the levels at which it holds, every choice with its answer.

This is the one walk over a build. The sheet reads the grants, the audit reads the choices and their picks, the cards
read what is open at a level.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any, Final

from engine.build.document import Build, Choose, Increase, Item, Pick, Swap
from engine.build.document import Granted as Gift
from engine.rules.catalog import Catalog
from engine.rules.content import ClassContent, Feature, Release, Species, Subclass
from engine.rules.formula import Formula
from engine.rules.grants import AnyGrant
from engine.rules.grants.attacks import AttackBonus, CriticalRange, DamageBonus, ExtraDamage
from engine.rules.grants.body import ArmorFormula, Size, Speed
from engine.rules.grants.casting import ExtraSpells, Spellcasting
from engine.rules.grants.choices import Choice
from engine.rules.grants.proficiencies import Expertise, Proficiency
from engine.rules.grants.scores import AbilityIncrease
from engine.rules.limits import DEAR, FORMULA_PARTS, MAX_COUNT, MAX_GATHERED, MAX_WEAPONS
from engine.rules.words import ABILITIES
from engine.sheet.gathered import (
    LAST_LEVEL,
    Carried,
    Gathered,
    Granted,
    Learned,
    MissingContent,
    Opened,
    Outfit,
    Picked,
    Refusal,
    Span,
)
from engine.sheet.matching import (
    EITHER,
    UNOPENED,
    WHOLE_LISTS,
    Opening,
    Written,
    accepts,
    assign,
    found_in,
    kind_of,
    meant,
    permits,
)
from engine.sheet.outfit import outfits

__all__ = [
    "Carried",
    "Gathered",
    "Granted",
    "Learned",
    "MissingContent",
    "Opened",
    "Outfit",
    "Picked",
    "Refusal",
    "accepts",
    "gather",
    "kind_of",
    "permits",
]

# A magic weapon's own grants of these kinds hold for attacks with it and no others.
OWN_WEAPON: Final = (AttackBonus, DamageBonus, CriticalRange, ExtraDamage)
GM_SOURCE: Final = "granted by the GM"


def gather(build: Build, catalog: Catalog, states: Iterable[str] = ()) -> Gathered:
    """Return everything that follows from a build: grants with their levels, choices with their answers, gear.

    states: ids of states and conditions that are switched on. Content that no folio gives is listed in `missing` and
    gives nothing; nothing is raised for an incomplete or illegal build.
    """
    walk = _Walk(build, catalog, tuple(dict.fromkeys(states)))
    walk.open_species()
    walk.open_background()
    walk.open_classes()
    walk.settle_known()
    walk.answer_all()
    walk.dress()
    walk.switch_on()
    return walk.result()


class _Walk:
    """The state of one walk. Lists grow; a swap or a replacement closes what is in them."""

    def __init__(self, build: Build, catalog: Catalog, states: tuple[str, ...]) -> None:
        self.build = build
        self.catalog = catalog
        self.release: Release = catalog.release
        self.states = states
        self.idle: list[str] = []
        self.weight = 0  # grants and the ids in them so far
        self.grants: list[Granted] = []
        self.openings: dict[str, list[Opening]] = {}
        self.order: list[Opening] = []
        self.picked: dict[str, Picked] = {}
        self.spare: list[Picked] = []
        self.gifts: list[Picked] = []
        self.missing: list[MissingContent] = []
        self.classes: dict[str, ClassContent] = {}
        self.subclasses: dict[str, Subclass] = {}
        self.spells: list[Learned] = []
        self.held: dict[str, list[Span]] = {}
        self.owner_of: dict[str, str | None] = {}
        self.outfits: tuple[Outfit, ...] = ()
        # What a pick brought, so that a swap can take it away again: path -> positions in the lists.
        self.brought: dict[str, tuple[int, int, int, int]] = {}
        self.opened_by: dict[str, tuple[Choice, str, str, str | None]] = {}
        self.known_choices: list[Opening] = []
        self.levels_at: dict[str, list[int]] = {}
        for level, class_id in enumerate(build.order, start=1):
            self.levels_at.setdefault(class_id, []).append(level)

    # -- what the origins and classes open ----------------------------------------------------------------------

    def open_species(self) -> None:
        origin = self.build.species
        if origin is None or origin.id is None:
            return
        found = self.catalog.species(origin.id)
        if found is None:
            self.missing.append(MissingContent("species", origin.id, None, "/species"))
            return
        parent = self.catalog.species(found.of) if found.of else None
        facts = [s for s in (found, parent) if s is not None]
        for species in reversed(facts):
            self._hold(species.id, 1, LAST_LEVEL, None)
            self._facts(species, facts)
            for feature in species.features:
                source = self.catalog.source("species", species.id, feature.name)
                self._feature(feature, feature.level, None, feature.name, source, "/species")

    def _facts(self, species: Species, facts: Sequence[Species]) -> None:
        # A subspecies states size and speed only where they differ from its species'.
        for word in ("size", "speed"):
            value = getattr(species, word)
            if value is None or next(s for s in facts if getattr(s, word) is not None) is not species:
                continue
            source = self.catalog.source("species", species.id, word.capitalize())
            grant: AnyGrant
            if word == "size":
                grant = Size.model_construct(size=value)
            else:
                grant = Speed.model_construct(amount=Formula(str(value), ("value", value)))
            self.grants.append(Granted(grant, f"{species.name}, {word}", source, 1, origin=species.id))

    def open_background(self) -> None:
        origin = self.build.background
        if origin is None:
            return
        if origin.id is not None:
            found = self.catalog.background(origin.id)
            if found is None:
                self.missing.append(MissingContent("background", origin.id, None, "/background"))
                return
            self._hold(found.id, 1, LAST_LEVEL, None)
            for feature in found.features:
                source = self.catalog.source("background", found.id, feature.name)
                self._feature(feature, feature.level, None, feature.name, source, "/background")
            return
        rule, source = self.release.custom_background, self.catalog.rule("custom-background")
        label = origin.name or "background"
        counts = [("skill", rule.skills), (EITHER, rule.tools_and_languages), ("feature", int(rule.feature))]
        for keyword, count in counts:
            if count:
                choice = Choice.model_construct(keyword=keyword, count=_number(count))
                self._open(choice, 1, None, label, source, "/background")
        for grant in rule.grants:
            self._give(grant, 1, LAST_LEVEL, None, label, source, "/background", "custom-background")

    def open_classes(self) -> None:
        for level, class_id, nth, line in self.build.lines():
            found = self.classes.get(class_id)
            if found is None:
                found = self.catalog.class_(class_id)
                if found is None:
                    if nth == 1:
                        self.missing.append(MissingContent("class", class_id, level, f"/levels/{class_id}/1"))
                    continue
                self.classes[class_id] = found
            place = f"/levels/{class_id}/{nth}"
            if nth == 1:
                self._start(found, level, place)
            for feature in found.features:
                if feature.level == nth:
                    source = self.catalog.source("class", class_id, feature.name)
                    self._feature(feature, level, class_id, feature.name, source, place)
            self._subclass(line.subclass, class_id, level, nth, place)

    def _start(self, found: ClassContent, level: int, place: str) -> None:
        if level == 1:
            source = self.catalog.source("class", found.id, "Proficiencies")
            saves = Proficiency.model_construct(of="save", ids=found.saves)
            self._give(saves, 1, LAST_LEVEL, found.id, found.name, source, place, found.id)
            given: tuple[AnyGrant, ...] = found.start
        else:
            source = self.catalog.rule("multiclass-proficiencies")
            given = found.multiclass.grants
        for grant in given:
            self._give(grant, level, LAST_LEVEL, found.id, found.name, source, place, found.id)

    def _subclass(self, named: str | None, class_id: str, level: int, nth: int, place: str) -> None:
        if named is not None and class_id not in self.subclasses:
            found = self.catalog.subclass(named)
            if found is None:
                self.missing.append(MissingContent("subclass", named, level, place))
            elif found.of == class_id:
                self.subclasses[class_id] = found
                self._hold(found.id, level, LAST_LEVEL, class_id)
                # Taken late, it gives at once what came before.
                for feature in found.features:
                    if feature.level < nth:
                        self._subfeature(found, feature, class_id, level, place)
        held = self.subclasses.get(class_id)
        if held is not None:
            for feature in held.features:
                if feature.level == nth:
                    self._subfeature(held, feature, class_id, level, place)

    def _subfeature(self, found: Subclass, feature: Feature, class_id: str, level: int, place: str) -> None:
        source = self.catalog.source("subclass", found.id, feature.name)
        self._feature(feature, level, class_id, feature.name, source, place)

    # -- features and their grants ------------------------------------------------------------------------------

    def _hold(self, id_: str, since: int, until: int, owner: str | None) -> None:
        self.held.setdefault(id_, []).append((since, until))
        self.owner_of.setdefault(id_, owner)

    def _feature(self, feature: Feature, since: int, owner: str | None, label: str, source: str, place: str) -> None:
        if feature.replaces is not None:
            self._end(feature.replaces, owner, since)
        self._hold(feature.id, since, LAST_LEVEL, owner)
        for grant in feature.grants:
            self._give(grant, since, LAST_LEVEL, owner, label, source, place, feature.id)

    def _end(self, id_: str, owner: str | None, level: int) -> None:
        for i, granted in enumerate(self.grants):
            if granted.origin == id_ and granted.owner == owner and granted.until >= level:
                self.grants[i] = replace(granted, until=level - 1)
        self.held[id_] = [(since, min(until, level - 1)) for since, until in self.held.get(id_, [])]

    def _reached(self, owner: str | None, owner_level: int) -> int | None:
        """Character level at which the owner reaches a level; None if the build never does."""
        if owner is None:
            return owner_level
        at = self.levels_at.get(owner, [])
        return at[owner_level - 1] if owner_level <= len(at) else None

    def _give(
        self,
        grant: AnyGrant,
        since: int,
        until: int,
        owner: str | None,
        label: str,
        source: str,
        place: str,
        origin: str,
        state: str | None = None,
        item: str | None = None,
    ) -> None:
        starts = 1
        if grant.level is not None:
            reached = self._reached(owner, grant.level)
            if reached is None:
                return
            since, starts = max(since, reached), grant.level
        if grant.until is not None:
            after = self._reached(owner, grant.until + 1)
            if after is not None:
                until = min(until, after - 1)
        if since > until or not self._room_for(grant):
            return
        shown = grant.label or label
        if isinstance(grant, Choice):
            self._open(grant, since, owner, shown, source, place)
            return
        self.grants.append(Granted(grant, shown, source, since, until, owner, origin, state, item, starts))
        if isinstance(grant, Spellcasting):
            self._open_casting(grant, since, owner, shown, source, place)
        elif isinstance(grant, ExtraSpells):
            self._extra_spells(grant, since, until, owner, shown, source)

    def _room_for(self, grant: AnyGrant) -> bool:
        """Tell whether a grant still counts: folios are anybody's, and no build may take up time without end."""
        self.weight += DEAR.get(grant.kind, 1)
        for value in grant.__dict__.values():
            if type(value) is tuple:
                self.weight += len(value)
            elif type(value) is Formula:
                self.weight += value.parts // FORMULA_PARTS
        return self.weight <= MAX_GATHERED

    def _extra_spells(
        self, grant: ExtraSpells, since: int, until: int, owner: str | None, label: str, source: str
    ) -> None:
        for at in grant.spells:
            reached = self._reached(owner, at.level)
            if reached is None:
                continue
            if self.catalog.spell(at.id) is None:
                self.missing.append(MissingContent("spell", at.id, reached, ""))
                continue
            how: Any = "always" if grant.how == "prepared" else grant.how
            self.spells.append(
                Learned(at.id, how, owner, max(since, reached), until, label, source, grant.ability, grant.casting)
            )

    # -- choices ------------------------------------------------------------------------------------------------

    def _open_casting(
        self, grant: Spellcasting, since: int, owner: str | None, label: str, source: str, place: str
    ) -> None:
        if grant.cantrips is not None:
            cantrips = Choice.model_construct(keyword="cantrip", total=grant.cantrips, list=grant.list)
            self._open(cantrips, since, owner, label, source, place)
        learned = grant.book if grant.preparation == "book" else grant.known
        if learned is not None:
            spells = Choice.model_construct(
                keyword="spell", total=learned, list=grant.list, swaps=grant.swaps, least=1, counts_as_known=True
            )
            before = len(self.order)
            self._open(spells, since, owner, label, source, place)
            self.known_choices.extend(self.order[before:])

    def _open(self, choice: Choice, since: int, owner: str | None, label: str, source: str, place: str) -> None:
        if since > max(self.build.top, 1):
            return
        choice = self.catalog.widened(choice, owner)
        if choice.total is None:
            count = self._count(choice.count, owner, since) if choice.count is not None else 1
            self._add(choice, since, owner, label, source, self._place(place, owner, since), count)
            return
        before = 0
        for level in self.levels_at.get(owner, []) if owner is not None else range(1, self.build.top + 1):
            if level < since:
                continue
            total = self._count(choice.total, owner, level)
            where = place if level == since else self._place(place, owner, level)
            if choice.keyword in WHOLE_LISTS:
                self._add(choice, level, owner, label, source, where, total - before, room=total)
            elif total > before:
                self._add(choice, level, owner, label, source, where, total - before)
            before = max(before, total)

    def _place(self, place: str, owner: str | None, level: int) -> str:
        """Where a choice is answered: on the line of that level for classes, unless it stands in parentheses."""
        if owner is None or place.count("/") > 3:
            return place
        nth = sum(1 for at in self.levels_at[owner] if at <= level)
        return f"/levels/{owner}/{nth}"

    def _add(
        self,
        choice: Choice,
        level: int,
        owner: str | None,
        label: str,
        source: str,
        place: str,
        count: int,
        room: int | None = None,
    ) -> None:
        if not self._room_for(choice):
            return
        points = count * choice.amount if choice.keyword == "increase" else count
        opening = Opening(choice, level, owner, label, source, place, count, points if room is None else room)
        self.openings.setdefault(place, []).append(opening)
        self.order.append(opening)

    def settle_known(self) -> None:
        """Take picks from any list that fill places among the spells known (magical secrets) out of those places."""
        known = {id(opening) for opening in self.known_choices}
        for opening in self.known_choices:
            taken = sum(
                o.count
                for o in self.openings.get(opening.place, ())
                if o.owner == opening.owner
                and o.level == opening.level
                and o.choice.counts_as_known
                and id(o) not in known
            )
            opening.count = opening.room = max(0, opening.count - taken)

    def _count(self, formula: Formula, owner: str | None, level: int) -> int:
        constant = formula.constant
        value = constant if constant is not None else formula.evaluate(self._scope(owner, level))
        return min(value, MAX_COUNT) if isinstance(value, int) else 0

    def _scope(self, owner: str | None, level: int) -> dict[str, Any]:
        """Words for counts of choices: levels and columns as they are, scores as they were before any increase."""
        nth = level if owner is None else sum(1 for at in self.levels_at.get(owner, ()) if at <= level)
        scores = self.build.scores.values if self.build.scores is not None else dict.fromkeys(ABILITIES, 10)
        scope: dict[str, Any] = {
            "class_level": nth,
            "character_level": level,
            "proficiency_bonus": self.release.proficiency_bonus[level - 1],
            "column": lambda name: self._column(owner, name, nth),
            "level_of": lambda id_: sum(1 for at in self.levels_at.get(id_, ()) if at <= level),
            "state": lambda id_: id_ in self.states,
            "has": lambda id_: any(a <= level <= b for a, b in self.held.get(id_, ())),
            "knows": lambda id_: any(s.spell == id_ and s.since <= level <= s.until for s in self.spells),
        }
        for ability in ABILITIES:
            scope[f"{ability}_score"] = scores[ability]
            scope[ability] = (scores[ability] - 10) // 2
        return scope

    def _column(self, owner: str | None, name: str, nth: int) -> int | str:
        if owner is None:
            return 0
        for found in (self.classes.get(owner), self.subclasses.get(owner)):
            cells = found.tables.get(name) if found is not None else None
            if cells is not None:
                return cells[nth - 1] or 0
        return 0

    # -- picks --------------------------------------------------------------------------------------------------

    def answer_all(self) -> None:
        """Match every pick of the build to an open choice, level by level; on a line learning comes before swaps."""
        if self.build.species is not None:
            self._answer(self.build.species.items, "/species", "/species/items", 1, None)
        if self.build.background is not None:
            self._answer(self.build.background.items, "/background", "/background/items", 1, None)
        for level, class_id, nth, line in self.build.lines():
            place = f"/levels/{class_id}/{nth}"
            if line.items:
                self._answer(line.items, place, f"{place}/items", level, class_id)
                for i, item in enumerate(line.items):
                    if isinstance(item, Swap):
                        self._swap(item, f"{place}/items/{i}", level, class_id)
        for i, ready in enumerate(self.build.prepared):
            owner = ready.of or self._preparer()
            picks = [
                Picked("prepare", p, f"/prepared/{i}/picks/{j}", self.build.top, owner)
                for j, p in enumerate(ready.picks)
            ]
            self._prepare(picks, max(self.build.top, 1))

    def _answer(self, items: Sequence[Item], place: str, path: str, level: int, owner: str | None) -> None:
        prepared: list[Picked] = []
        listed: set[str] = set()
        openings = self.openings.get(place, [])
        asking: list[Written] = []
        for written, of in found_in(items, path, level, owner):
            picked = meant(openings, written)
            if picked.keyword == "prepare":
                prepared.append(picked)
            elif picked.keyword in UNOPENED:
                self._unopened(picked, level)
            else:
                if picked.keyword in WHOLE_LISTS and picked.keyword not in listed:
                    listed.add(picked.keyword)
                    self._close_list(picked.keyword, owner, level)
                asking.append((picked, of))
        for (picked, _), opening in zip(asking, assign(openings, asking, self.catalog), strict=True):
            if opening is None:
                self.spare.append(picked)
                self._check_known(picked, None, level)
                continue
            self._take(replace(picked, owner=opening.owner), opening.choice, opening.label, opening.source, level)
        if prepared:
            self._prepare(prepared, level)
        for i, item in enumerate(items):
            if isinstance(item, Gift):
                self._gift(item, f"{path}/{i}/item", level, owner)

    def _take(self, picked: Picked, choice: Choice, label: str, source: str, since: int) -> None:
        """Let a pick have its effect from a character level on, and remember what it brought."""
        before = (len(self.grants), len(self.spells))
        self.picked[picked.path] = picked
        self.opened_by[picked.path] = (choice, label, source, picked.owner)
        self._effect(picked, choice, label, source, since)
        self.brought[picked.path] = (before[0], len(self.grants), before[1], len(self.spells))

    def _effect(self, picked: Picked, choice: Choice, label: str, source: str, since: int) -> None:
        pick, owner = picked.pick, picked.owner
        keyword: Any = picked.keyword
        id_: Any = pick.id
        chosen = self._chosen(owner, label, since)
        grant: AnyGrant | None = None
        if keyword == "skill" or keyword == "tool" or keyword == "language":
            grant = Proficiency.model_construct(of=keyword, ids=(pick.id,))
        elif keyword == "expertise":
            grant, chosen = Expertise.model_construct(ids=(pick.id,)), f"expertise ({chosen})"
        elif keyword == "increase":
            grant = AbilityIncrease.model_construct(ability=id_, amount=pick.count, cap=choice.cap)
            if owner is not None:
                chosen = f"{label} ({self._class_and_level(owner, since)})"
            else:
                chosen = label
        self._check_known(picked, choice, since)
        if grant is not None:
            self.grants.append(Granted(grant, chosen, source, since, owner=owner, origin=pick.id))
            return
        if kind_of(keyword, choice) == "spell":
            self._learn(picked, choice, label, source, since)
            return
        self._option(picked, since)

    def _chosen(self, owner: str | None, label: str, since: int) -> str:
        where = self._class_and_level(owner, since) if owner is not None else label
        return f"{where}, chosen at level {since}"

    def _class_and_level(self, owner: str, level: int) -> str:
        nth = sum(1 for at in self.levels_at.get(owner, ()) if at <= level)
        return f"{self.catalog.name_of('class', owner)} {nth}"

    def _option(self, picked: Picked, since: int) -> None:
        """Give what a picked option, feat or feature brings, and answer the choices it opens in its parentheses."""
        pick, keyword = picked.pick, picked.keyword
        feature: Feature | None
        owner = picked.owner
        if keyword == "feat":
            feature, owner = self.catalog.feat(pick.id), None
            source = self.catalog.source("feat", pick.id)
        elif keyword == "feature":
            feature, source = self.catalog.feature(pick.id), self.catalog.source("feature", pick.id)
        else:
            feature = self.catalog.option(keyword, pick.id)
            listed = self.catalog.choice_list(keyword)
            if feature is not None and listed is not None:
                source = self.catalog.source("choice-list", listed.id, feature.name)
            else:
                source = self.catalog.source(f"option:{keyword}", pick.id)
        if feature is not None:
            self._feature(feature, since, owner, feature.name, source, picked.path)
            if pick.items:
                self._answer(pick.items, picked.path, f"{picked.path}/items", since, owner)
        else:
            self._hold(pick.id, since, LAST_LEVEL, owner)

    def _check_known(self, picked: Picked, choice: Choice | None, level: int) -> None:
        kind = kind_of(picked.keyword, choice)
        id_ = picked.pick.id
        if picked.keyword in ("increase", "ability"):
            return
        kinds = ("skill", "tool") if picked.keyword == "expertise" else (kind,)
        if not any(self.catalog.named(k, id_) for k in kinds):
            self.missing.append(MissingContent(kinds[0].removeprefix("option:"), id_, level, picked.path))

    # -- spells -------------------------------------------------------------------------------------------------

    def _learn(self, picked: Picked, choice: Choice, label: str, source: str, since: int) -> None:
        if choice.held and not choice.always_prepared:
            return  # the spell is there already; the choice only marks it
        how: Any = "known"
        if choice.always_prepared:
            how = "always"
        elif picked.keyword == "spell" and self._casting_of(picked.owner) == "book":
            how = "book"
        ability = choice.ability
        if ability is None and choice.casting is not None:
            ability = self._ability_beside(picked.path)
        self.spells.append(
            Learned(picked.pick.id, how, picked.owner, since, LAST_LEVEL, label, source, ability, choice.casting)
        )

    def _ability_beside(self, path: str) -> Any:
        place = path.rsplit("/items/", 1)[0]
        for other in self.picked.values():
            if other.keyword == "ability" and other.path.startswith(f"{place}/items/"):
                return other.pick.id
        return None

    def _casting_of(self, owner: str | None) -> str | None:
        for granted in self.grants:
            if isinstance(granted.grant, Spellcasting) and granted.owner == owner:
                return granted.grant.preparation
        return None

    def _preparer(self) -> str | None:
        ready = [
            g.owner
            for g in self.grants
            if isinstance(g.grant, Spellcasting) and g.grant.preparation in ("prepared", "book")
        ]
        return ready[0] if ready else next(iter(self.levels_at), None)

    def _unopened(self, picked: Picked, level: int) -> None:
        # Spells copied into the book beyond those that each level gives: as many as the author found.
        self.picked[picked.path] = picked
        self._check_known(picked, None, level)
        before = len(self.spells)
        owner = picked.owner
        label = self.catalog.name_of("class", owner) if owner else "copied"
        source = self.catalog.source("class", owner) if owner else ""
        self.spells.append(Learned(picked.pick.id, "book", owner, level, LAST_LEVEL, label, source))
        at = len(self.grants)
        self.brought[picked.path] = (at, at, before, len(self.spells))

    def _prepare(self, picks: Sequence[Picked], level: int) -> None:
        for owner in dict.fromkeys(p.owner for p in picks):
            self._close_list("prepare", owner, level)
        for picked in picks:
            self.picked[picked.path] = picked
            self._check_known(picked, None, level)
            before = len(self.spells)
            label = self.catalog.name_of("class", picked.owner) if picked.owner else ""
            source = self.catalog.source("class", picked.owner) if picked.owner else ""
            self.spells.append(Learned(picked.pick.id, "prepared", picked.owner, level, LAST_LEVEL, label, source))
            at = len(self.grants)
            self.brought[picked.path] = (at, at, before, len(self.spells))

    def _close_list(self, keyword: str, owner: str | None, level: int) -> None:
        for path, picked in list(self.picked.items()):
            if picked.keyword == keyword and picked.owner == owner and picked.swapped_out is None:
                self._take_away(path, level)

    # -- swaps and gifts ----------------------------------------------------------------------------------------

    def _take_away(self, path: str, level: int) -> None:
        self.picked[path] = replace(self.picked[path], swapped_out=level)
        first_grant, last_grant, first_spell, last_spell = self.brought[path]
        for i in range(first_grant, last_grant):
            self.grants[i] = replace(self.grants[i], until=min(self.grants[i].until, level - 1))
        for i in range(first_spell, last_spell):
            self.spells[i] = replace(self.spells[i], until=min(self.spells[i].until, level - 1))
        id_ = self.picked[path].pick.id
        if id_ in self.held:
            self.held[id_] = [(since, min(until, level - 1)) for since, until in self.held[id_]]

    def _swap(self, swap: Swap, path: str, level: int, class_id: str) -> None:
        mine = [
            p
            for p in self.picked.values()
            if p.pick.id == swap.old.id
            and p.keyword == swap.keyword
            and p.swapped_out is None
            and not p.path.startswith("/species")
        ]
        mine.sort(key=lambda p: p.owner != class_id)
        if not mine or mine[0].path not in self.opened_by:
            self.spare.append(Picked(swap.keyword, swap.old, f"{path}/old", level, class_id))
            return
        old = mine[0]
        choice, label, source, owner = self.opened_by[old.path]
        self._take_away(old.path, level)
        new = Picked(swap.keyword, swap.new, f"{path}/new", level, owner, by_swap=True, swapped_for=swap.old.id)
        self._take(new, choice, label, source, level)

    def _gift(self, gift: Gift, path: str, level: int, owner: str | None) -> None:
        inner = gift.item
        picks: list[Picked] = []
        if isinstance(inner, Choose):
            picks = [
                Picked(inner.keyword, p, f"{path}/picks/{j}", level, inner.of or owner)
                for j, p in enumerate(inner.picks)
            ]
        elif isinstance(inner, Increase):
            pick = Pick.model_construct(id=inner.ability, count=inner.amount, bonus=0, items=())
            picks = [Picked("increase", pick, path, level, None)]
        label = f"gift: {gift.text}"
        for picked in picks:
            self.gifts.append(picked)
            choice = Choice.model_construct(keyword=picked.keyword, count=_number(1), cap=30)
            self._take(picked, choice, label, f"{GM_SOURCE}: {gift.text}", level)

    # -- gear and states ----------------------------------------------------------------------------------------

    def dress(self) -> None:
        """Give what things grant while they are worn or in a hand, and attuned where they need that."""
        self.outfits, missing, spare = outfits(self.build, self.catalog)
        self.missing.extend(missing)
        self.spare.extend(spare)
        spans: dict[tuple[str, bool], tuple[Carried, int, int]] = {}
        closed: list[tuple[Carried, int, int, bool]] = []
        for outfit in self.outfits:
            now: dict[tuple[str, bool], tuple[Carried, int, int]] = {}
            used = {c.key for c in outfit.in_use}
            attuned: set[str] = set()
            for thing in outfit.carried:
                # Magic items without features of their own still count as had: states may need them.
                if thing.item is None or not (thing.item.features or thing.item.magic) or not thing.works:
                    continue
                if thing.attuned and thing.item.id in attuned:
                    continue  # nobody is attuned to two copies of one thing (Magic Items, Attunement)
                attuned.add(thing.item.id)
                for own in (False, True):
                    if (own and thing.held_by_hand) or (not own and thing.key in used):
                        since = spans[(thing.key, own)][1] if (thing.key, own) in spans else outfit.since
                        now[(thing.key, own)] = (thing, since, outfit.until)
            closed.extend((*span, key[1]) for key, span in spans.items() if key not in now)
            spans = now
        closed.extend((*span, key[1]) for key, span in spans.items())
        for thing, since, until, own in closed:
            assert thing.item is not None
            self._item(thing, since, until, own)

    def _item(self, thing: Carried, since: int, until: int, own: bool) -> None:
        assert thing.item is not None
        source = self.catalog.source("item", thing.item.id)
        if not own:
            self._hold(thing.item.id, since, until, None)
        for feature in thing.item.features:
            for grant in feature.grants:
                of_weapon = thing.held_by_hand and isinstance(grant, OWN_WEAPON)
                if of_weapon == own:
                    self._give(grant, since, until, None, thing.name, source, thing.key, thing.item.id, item=thing.key)

    def switch_on(self) -> None:
        """Give what the states asked for grant, from the level at which the build can be in them."""
        for id_ in self.states:
            state = self.catalog.state(id_)
            if state is None:
                self.missing.append(MissingContent("state", id_, None, ""))
                continue
            owner, since, until = None, 1, LAST_LEVEL
            if state.needs is not None:
                spans = self.held.get(state.needs, []) or [
                    (s.since, s.until) for s in self.spells if s.spell == state.needs and s.how != "listed"
                ]
                if not spans:
                    self.idle.append(id_)
                    continue
                since, until = min(a for a, _ in spans), max(b for _, b in spans)
                learned = next((s.owner for s in self.spells if s.spell == state.needs), None)
                owner = self.owner_of.get(state.needs, learned)
            kind = "state" if self.catalog.named("state", id_) else "condition"
            source = self.catalog.source(kind, id_)
            for grant in state.grants:
                self._give(grant, since, until, owner, state.name, source, "", state.id, state=id_)

    def _armed_to_the_teeth(self) -> bool:
        """Tell whether the build carries more different weapons at once than are worked out."""
        return any(len({(c.pick.id, c.pick.bonus) for c in o.weapons}) > MAX_WEAPONS for o in self.outfits)

    # -- the end ------------------------------------------------------------------------------------------------

    def result(self) -> Gathered:
        grants, refused = _first_of_family(sorted(self.grants, key=lambda g: g.since))
        opened = []
        for opening in self.order:
            if opening.count <= 0 and not opening.picks:
                continue
            opening.picks = [self.picked.get(p.path, p) for p in opening.picks]
            opened.append(opening.frozen())
        return Gathered(
            build=self.build,
            catalog=self.catalog,
            grants=tuple(g for g in grants if g.since <= g.until),
            opened=tuple(opened),
            picked=tuple(self.picked.values()),
            spare=tuple(self.spare),
            missing=tuple(self.missing),
            classes=self.classes,
            subclasses=self.subclasses,
            spells=tuple(s for s in self.spells if s.since <= s.until),
            outfits=self.outfits,
            gifts=tuple(self.gifts),
            refused=tuple(refused),
            held={id_: tuple(spans) for id_, spans in self.held.items()},
            levels_at={id_: tuple(at) for id_, at in self.levels_at.items()},
            states=self.states,
            idle=tuple(self.idle),
            overfull=self.weight > MAX_GATHERED or self._armed_to_the_teeth(),
        )


def _number(value: int) -> Formula:
    return Formula(str(value), ("value", value))


def _first_of_family(grants: Iterable[Granted]) -> tuple[list[Granted], list[Refusal]]:
    """Keep of armor class formulas of one family only those of the feature gained first (Multiclassing)."""
    kept: list[Granted] = []
    refused: list[Refusal] = []
    first: dict[str, Granted] = {}
    for granted in grants:
        family = granted.grant.family if isinstance(granted.grant, ArmorFormula) else None
        if family is not None:
            holder = first.setdefault(family, granted)
            if (holder.origin, holder.owner) != (granted.origin, granted.owner):
                refused.append(Refusal(granted.label, granted.source, granted.since, holder.label))
                continue
        kept.append(granted)
    return kept, refused
