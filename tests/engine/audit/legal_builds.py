"""Random builds that break no rule, composed choice by choice from the catalogue.

Knows the rules from the content models alone: nothing of engine.audit and nothing of engine.sheet is used, so that
what these builds are allowed is a second reading of the folio. A choice that has run out of legal options is left
open, which is unfinished and breaks nothing.
"""

from collections.abc import Iterable, Mapping, Sequence
from random import Random
from typing import Any

from hypothesis import strategies as st

from engine.build.document import (
    Build,
    Choose,
    Flag,
    Gain,
    Goal,
    Increase,
    Item,
    Line,
    Lose,
    NoteItem,
    Origin,
    Pick,
    Preparation,
    Scores,
    Swap,
)
from engine.rules.catalog import Catalog
from engine.rules.content import ClassContent, Feature, Option, Spell, Subclass
from engine.rules.formula import Formula
from engine.rules.grants import AnyGrant
from engine.rules.grants.casting import ExtraSpells, Spellcasting
from engine.rules.grants.choices import Choice
from engine.rules.grants.proficiencies import Proficiency
from engine.rules.grants.scores import AbilityIncrease
from engine.rules.words import ABILITIES

SPELLS = ("cantrip", "spell", "secret")
MOST_CLASSES = 3
# High levels are drawn more often, since what comes there is rare.
LENGTHS = (*range(1, 21), 20, 20, 20, 20, 20, 20)


@st.composite
def legal_builds(draw: st.DrawFn, catalog: Catalog, first: str | None = None) -> Build:
    """Draw a build of 1 to 20 levels. first: class id of level 1; any class if absent."""
    classes = sorted({n.id for n in catalog.every("class")})
    start = first or draw(st.sampled_from(classes))
    levels = draw(st.sampled_from(LENGTHS))
    return author(catalog, draw(st.randoms(use_true_random=True))).write(start, levels)


def author(catalog: Catalog, dice: Random) -> "_Author":
    """Return an author who writes one build with these dice; for tests that need no strategy."""
    return _Author(catalog, dice)


class _Author:
    """One author at work. What was had so far is kept only as far as the rules of picking need it."""

    def __init__(self, catalog: Catalog, dice: Random) -> None:
        self.catalog = catalog
        self.dice = dice
        self.release = catalog.release
        self.scores: dict[str, int] = {}
        self.had: dict[str, set[str]] = {"skill": set(), "tool": set(), "language": set()}
        self.options: dict[str, set[str]] = {}
        self.held: set[str] = set()
        self.known: dict[str | None, set[str]] = {}
        self.listed: dict[str | None, set[str]] = {}
        self.always: set[str] = set()
        self.taken: dict[str, int] = {}
        self.subclasses: dict[str, Subclass] = {}
        self.level = 0
        # Some authors stay with one class to the end.
        self.devoted = dice.random() < 0.6

    # -- the whole ------------------------------------------------------------------------------------------------

    def write(self, start: str, levels: int) -> Build:
        scores = self.scores_for(start)
        self.scores = {str(ability): value for ability, value in scores.values.items()}
        species = self.dice.choice([n.id for n in self.catalog.every("species") if not self.catalog.subspecies(n.id)])
        own = self.dice.random() < 0.5
        background = None if own else self.dice.choice([n.id for n in self.catalog.every("background")])
        first = self.catalog.class_(start)
        assert first is not None
        # What comes without a choice at level 1 is known before anything is picked.
        fixed = [*self.species_features(species), *self.background_features(background)]
        self.level = 1
        for feature in fixed:
            self.held.add(feature.id)
            self.fixed(feature.grants, None)
        self.fixed(first.start, start)
        for feature in first.features:
            if feature.level == 1:
                self.fixed(feature.grants, start)
        species_items = [i for f in self.species_features(species) for i in self.answers(f.grants, None, f.level)]
        background_items = self.background_items(background)
        order: list[str] = []
        lines: dict[str, dict[int, Line]] = {}
        for level in range(1, levels + 1):
            class_id = start if level == 1 else self.next_class(order)
            order.append(class_id)
            line = self.line(class_id, level)
            if not line.empty:
                lines.setdefault(class_id, {})[order.count(class_id)] = line
        gear = self.gear(first)
        return Build(
            name="Harbour Draft",
            rules=self.catalog.folios[0].id,
            scores=scores,
            species=Origin(id=species, items=tuple(species_items)),
            background=Origin(id=background, name=None if background else "Tide Clerk", items=tuple(background_items)),
            order=tuple(order),
            levels=lines,
            gear=gear,
            prepared=tuple(self.prepared(order)),
            goals=(Goal(form="compare", name="ac", value=14, when="by", level=levels),),
        )

    def scores_for(self, start: str) -> Scores:
        """Give the high scores to what the first class works with, so that other classes come within reach."""
        method = self.dice.choice(["standard-array", "point-buy", "rolled"])
        if method == "standard-array":
            values = list(self.release.scores.standard_array)
        elif method == "point-buy":
            values = self.bought()
        else:
            values = [max(3, min(18, self.dice.randint(8, 18))) for _ in ABILITIES]
        self.dice.shuffle(values)
        given = dict(zip(ABILITIES, values, strict=True))
        class_ = self.catalog.class_(start)
        assert class_ is not None
        for ability in (*class_.multiclass.all_of, *class_.multiclass.any_of):
            best = max(given, key=lambda a: given[a])
            given[ability], given[best] = given[best], given[ability]
        roll = 12 if method == "rolled" and self.dice.random() < 0.5 else None
        return Scores(values=given, method=method, roll=roll)

    def bought(self) -> list[int]:
        costs, left = self.release.scores.point_costs, self.release.scores.points
        values = [min(costs)] * 6
        while True:
            room = [i for i, v in enumerate(values) if v + 1 in costs and costs[v + 1] - costs[v] <= left]
            if not room:
                return values
            i = self.dice.choice(room)
            left -= costs[values[i] + 1] - costs[values[i]]
            values[i] += 1

    def species_features(self, species_id: str) -> list[Feature]:
        species = self.catalog.species(species_id)
        assert species is not None
        parent = self.catalog.species(species.of) if species.of else None
        return [*(parent.features if parent else ()), *species.features]

    def background_features(self, background_id: str | None) -> Sequence[Feature]:
        background = self.catalog.background(background_id) if background_id else None
        return background.features if background else ()

    def background_items(self, background_id: str | None) -> list[Item]:
        if background_id is not None:
            return [i for f in self.background_features(background_id) for i in self.answers(f.grants, None, f.level)]
        rule = self.release.custom_background
        items = self.proficiencies("skill", rule.skills, (), ())
        tools = self.dice.randint(0, rule.tools_and_languages)
        items += self.proficiencies("tool", tools, (), ())
        items += self.proficiencies("language", rule.tools_and_languages - tools, (), ())
        features = [
            f.id
            for n in self.catalog.every("background")
            if (background := self.catalog.background(n.id)) is not None
            for f in background.features
            if not any(isinstance(g, Proficiency | Choice) for g in f.grants)
        ]
        if rule.feature:
            items.append(choose("feature", [self.dice.choice(features)]))
        return items

    def next_class(self, order: list[str]) -> str:
        """Stay, or begin a class that the scores before this level allow."""
        held = list(dict.fromkeys(order))
        if self.devoted:
            return order[0]
        if self.dice.random() < 0.75:
            return order[-1] if self.dice.random() < 0.8 else self.dice.choice(held)
        able = [c for c in sorted({n.id for n in self.catalog.every("class")}) if self.able([c, *held])]
        new = [c for c in able if c not in held]
        return self.dice.choice(new) if new and len(held) < MOST_CLASSES else self.dice.choice(held)

    def able(self, class_ids: Iterable[str]) -> bool:
        for class_id in class_ids:
            class_ = self.catalog.class_(class_id)
            assert class_ is not None
            needs = class_.multiclass
            if any(self.scores[a] < least for a, least in needs.all_of.items()):
                return False
            if needs.any_of and all(self.scores[a] < least for a, least in needs.any_of.items()):
                return False
        return True

    # -- one level ------------------------------------------------------------------------------------------------

    def line(self, class_id: str, level: int) -> Line:
        class_ = self.catalog.class_(class_id)
        assert class_ is not None
        self.level = level
        nth = self.taken[class_id] = self.taken.get(class_id, 0) + 1
        named = None
        if nth == class_.subclass_level:
            named = self.dice.choice(self.catalog.subclasses(class_id))
            self.subclasses[class_id] = named
        grants: list[AnyGrant] = []
        if nth == 1:
            grants += class_.start if level == 1 else class_.multiclass.grants
        for feature in self.features(class_, class_id, nth):
            if feature.level == nth:
                self.held.add(feature.id)
            grants += [g for g in feature.grants if self.opens(g, feature, nth)]
        self.fixed(grants, class_id)
        items = self.answers(grants, class_id, nth, given=True)
        items += self.casting(class_, class_id, nth, items)
        items = self.in_order(items)
        items += self.swaps(class_, class_id, nth, items)
        if self.dice.random() < 0.05:
            items.append(NoteItem(text="the lighthouse keeper lends a chart"))
        if self.dice.random() < 0.1:
            items += self.trade()
        hp = self.dice.randint(1, class_.hit_die) if level > 1 and self.dice.random() < 0.2 else None
        return Line(subclass=named.id if named else None, hp=hp, roll=31 if hp else None, items=tuple(items))

    def features(self, class_: ClassContent, class_id: str, nth: int) -> list[Feature]:
        subclass = self.subclasses.get(class_id)
        mine = [*class_.features, *(subclass.features if subclass else ())]
        return [f for f in mine if f.level <= nth]

    def opens(self, grant: AnyGrant, feature: Feature, nth: int) -> bool:
        """Whether a grant begins at this level of the class; running totals are looked at on every level."""
        at = max(grant.level or feature.level, feature.level)
        if isinstance(grant, Choice) and grant.total is not None:
            return at <= nth
        if isinstance(grant, Spellcasting):
            return False
        return at == nth

    def fixed(self, grants: Iterable[AnyGrant], owner: str | None) -> None:
        for grant in grants:
            if isinstance(grant, Proficiency) and grant.of in self.had and self.begins(grant, owner):
                self.had[grant.of].update(grant.ids)
            elif isinstance(grant, AbilityIncrease):
                self.scores[grant.ability] = min(grant.cap, self.scores[grant.ability] + grant.amount)
            elif isinstance(grant, ExtraSpells):
                ids = {s.id for s in grant.spells}
                if grant.how == "listed":
                    self.listed.setdefault(owner, set()).update(ids)
                elif grant.how == "known":
                    self.known.setdefault(owner, set()).update(ids)
                else:
                    self.always.update(ids)

    def begins(self, grant: AnyGrant, owner: str | None) -> bool:
        return owner is None or grant.level is None or grant.level <= max(1, self.taken.get(owner, 1))

    # -- choices --------------------------------------------------------------------------------------------------

    def answers(self, grants: Iterable[AnyGrant], owner: str | None, nth: int, given: bool = False) -> list[Item]:
        choices = [g for g in grants if isinstance(g, Choice)]
        # Expertise comes after the proficiencies of the same level.
        choices.sort(key=lambda c: c.keyword == "expertise")
        items: list[Item] = []
        for choice in choices:
            count = self.count(choice, owner, nth)
            if count > 0:
                items += self.answer(choice, count, owner, nth)
        return merged(items)

    def count(self, choice: Choice, owner: str | None, nth: int) -> int:
        if choice.total is None:
            return self.value(choice.count, owner, nth) if choice.count is not None else 1
        before = self.value(choice.total, owner, nth - 1) if nth > 1 else 0
        return self.value(choice.total, owner, nth) - before

    def answer(self, choice: Choice, count: int, owner: str | None, nth: int) -> list[Item]:
        match choice.keyword:
            case "skill" | "tool" | "language":
                return self.proficiencies(choice.keyword, count, choice.from_, choice.but)
            case "expertise":
                return self.expertise(count, choice.from_)
            case "increase":
                return self.increases(choice, count)
            case "kind":
                kinds = [n.id for n in self.catalog.every("humanoid-kind")]
                return [choose("kind", self.dice.sample(kinds, count))]
            case "feat":
                feats = [f for f in self.feats() if not choice.from_ or f in choice.from_]
                return [self.feat(self.dice.choice(feats))] if feats else []
        if choice.keyword in SPELLS or choice.of == "spell":
            return self.spells(choice, count, owner, nth)
        return self.picks(choice, count, owner, nth)

    def proficiencies(self, kind: str, count: int, allowed: Sequence[str], but: Sequence[str]) -> list[Item]:
        names = [n.id for n in self.catalog.every(kind) if n.id not in self.had[kind] and n.id not in but]
        if allowed:
            names = [i for i in names if i in allowed or self.groups(kind, i) & set(allowed)]
        elif kind == "language":
            # Exotic and secret tongues need the GM's leave.
            names = [i for i in names if not self.groups(kind, i) & {"exotic", "secret"}]
        chosen = self.dice.sample(names, min(count, len(names)))
        self.had[kind].update(chosen)
        return [choose(kind, chosen)] if chosen else []

    def groups(self, kind: str, id_: str) -> set[str]:
        if kind == "language":
            return {g for w in self.release.languages if w.id == id_ for g in w.groups}
        item = self.catalog.item(id_)
        return set(item.groups) if item is not None else set()

    def expertise(self, count: int, tools: Sequence[str]) -> list[Item]:
        had = self.options.setdefault("expertise", set())
        names = sorted((self.had["skill"] | (self.had["tool"] & set(tools))) - had)
        chosen = self.dice.sample(names, min(count, len(names)))
        had.update(chosen)
        return [choose("expertise", chosen)] if chosen else []

    def increases(self, choice: Choice, count: int) -> list[Item]:
        able = [a for a in ABILITIES if a not in choice.but and (not choice.from_ or a in choice.from_)]
        if choice.or_feat and self.dice.random() < 0.2 and (feats := self.feats()):
            return [self.feat(self.dice.choice(feats))]
        points = [choice.amount] * count
        if choice.split and count == 1 and self.dice.random() < 0.5:
            points = [1] * choice.amount
        items: list[Item] = []
        for amount in points:
            room = [a for a in able if self.scores[a] + amount <= choice.cap]
            if not room:
                continue
            ability = self.dice.choice(room)
            able.remove(ability)
            self.scores[ability] += amount
            items.append(Increase(ability=ability, amount=amount))
        return items

    def feats(self) -> list[str]:
        feats = [self.catalog.feat(n.id) for n in self.catalog.every("feat")]
        return [f.id for f in feats if f is not None and self.may_take("feat", f, None)]

    def feat(self, id_: str) -> Item:
        feat = self.catalog.feat(id_)
        assert feat is not None
        self.options.setdefault("feat", set()).add(id_)
        self.held.add(id_)
        self.fixed(feat.grants, None)
        return Choose(keyword="feat", picks=(Pick(id=id_, items=tuple(self.answers(feat.grants, None, self.level))),))

    def may_take(self, keyword: str, option: Option, owner: str | None) -> bool:
        nth = self.level if owner is None else self.taken.get(owner, 1)
        if option.level > nth or (option.id in self.options.get(keyword, ()) and not option.repeatable):
            return False
        return option.requires is None or bool(option.requires.evaluate(self.scope(owner, nth)))

    def picks(self, choice: Choice, count: int, owner: str | None, nth: int) -> list[Item]:
        listed = self.catalog.choice_list(choice.keyword)
        assert listed is not None, choice.keyword
        picked: list[Pick] = []
        for _ in range(count):
            able = [
                o
                for o in listed.options
                if (not choice.from_ or o.id in choice.from_)
                and o.id not in choice.but
                and self.may_take(choice.keyword, o, owner)
            ]
            if not able:
                break
            option = self.dice.choice(able)
            self.options.setdefault(choice.keyword, set()).add(option.id)
            self.held.add(option.id)
            self.fixed(option.grants, owner)
            picked.append(Pick(id=option.id, items=tuple(self.answers(option.grants, owner, nth))))
        return [Choose(keyword=choice.keyword, picks=tuple(picked))] if picked else []

    # -- spells ---------------------------------------------------------------------------------------------------

    def spells(self, choice: Choice, count: int, owner: str | None, nth: int) -> list[Item]:
        limit = self.value(choice.spell_level, owner, nth) if choice.spell_level is not None else None
        if choice.keyword == "cantrip":
            limit = 0
        elif limit is None and owner is not None:
            limit = self.top(owner, nth)
        shelf = self.known.setdefault(owner, set())
        marked = self.options.setdefault(choice.keyword, set())
        able: list[Spell] = []
        for named in self.catalog.every("spell"):
            spell = named.entry
            assert isinstance(spell, Spell)
            if spell.level < choice.least or (limit is not None and spell.level > limit):
                continue
            if choice.from_ and spell.id not in choice.from_:
                continue
            if spell.level == 0 and choice.keyword not in ("cantrip", "secret"):
                continue
            if choice.list is not None and not self.on_list(spell, choice.list, owner):
                continue
            had = spell.id in shelf
            if choice.held:
                if not had or spell.id in marked:
                    continue
            elif had:
                continue
            able.append(spell)
        chosen = [s.id for s in self.dice.sample(able, min(count, len(able)))]
        if choice.of == "spell":
            marked.update(chosen)
        else:
            shelf.update(chosen)
        return [choose(choice.keyword, chosen)] if chosen else []

    def on_list(self, spell: Spell, list_: str, owner: str | None) -> bool:
        return self.catalog.on_list(spell, list_) or spell.id in self.listed.get(owner, ())

    def top(self, owner: str, nth: int) -> int:
        """The highest spell level of the class's own table at a level of it."""
        class_ = self.catalog.class_(owner)
        assert class_ is not None
        subclass = self.subclasses.get(owner)
        tables = {**class_.tables, **(subclass.tables if subclass else {})}
        if "pact_level" in tables:
            return int(tables["pact_level"][nth - 1] or 0)
        return max((n for n in range(1, 10) if (tables.get(f"slots_{n}") or [0] * 20)[nth - 1]), default=0)

    def spellcasting(self, class_: ClassContent, class_id: str, nth: int) -> Spellcasting | None:
        for feature in self.features(class_, class_id, nth):
            for grant in feature.grants:
                if isinstance(grant, Spellcasting) and max(grant.level or 1, feature.level) <= nth:
                    return grant
        return None

    def casting(self, class_: ClassContent, class_id: str, nth: int, items: Sequence[Item]) -> list[Item]:
        grant = self.spellcasting(class_, class_id, nth)
        if grant is None:
            return []
        before = self.spellcasting(class_, class_id, nth - 1) if nth > 1 else None

        def due(formula: Formula | None) -> int:
            if formula is None:
                return 0
            return self.value(formula, class_id, nth) - (self.value(formula, class_id, nth - 1) if before else 0)

        found: list[Item] = []
        cantrips = Choice.model_construct(keyword="cantrip", list=grant.list)
        found += self.spells(cantrips, due(grant.cantrips), class_id, nth)
        # Secrets fill places among the spells known.
        secrets = sum(
            self.count(g, class_id, nth)
            for f in self.features(class_, class_id, nth)
            for g in f.grants
            if isinstance(g, Choice) and g.counts_as_known and self.opens(g, f, nth)
        )
        learned = due(grant.book if grant.preparation == "book" else grant.known) - secrets
        spells = Choice.model_construct(keyword="spell", list=grant.list, least=1)
        found += self.spells(spells, max(0, learned), class_id, nth)
        if grant.preparation == "book" and self.dice.random() < 0.15:
            copied = self.spells(spells, 1, class_id, nth)
            found += [i.model_copy(update={"keyword": "copied"}) for i in copied if isinstance(i, Choose)]
        return found

    def swaps(self, class_: ClassContent, class_id: str, nth: int, items: Sequence[Item]) -> list[Item]:
        """Exchange one thing that was there before this line, where the class allows it."""
        found: list[Item] = []
        grant = self.spellcasting(class_, class_id, nth)
        new = {p.id for i in items if isinstance(i, Choose) for p in i.picks}
        if grant is not None and grant.swaps and nth > 1 and self.dice.random() < 0.25:
            old = [
                s
                for s in sorted(self.known.get(class_id, ()) - new)
                if (spell := self.catalog.spell(s)) is not None and spell.level > 0 and s in self.own.get(class_id, ())
            ]
            spells = Choice.model_construct(keyword="spell", list=grant.list, least=1)
            if old:
                gone = self.dice.choice(old)
                came = self.spells(spells, 1, class_id, nth)
                for item in came:
                    assert isinstance(item, Choose)
                    self.known[class_id].discard(gone)
                    self.own[class_id].discard(gone)
                    self.own[class_id].add(item.picks[0].id)
                    found.append(Swap(keyword="spell", old=Pick(id=gone), new=item.picks[0]))
        for item in items:
            if isinstance(item, Choose) and item.keyword == "spell":
                self.own.setdefault(class_id, set()).update(p.id for p in item.picks)
        return found

    @property
    def own(self) -> dict[str, set[str]]:
        """Spells that stand under `spells` of a class, which a swap of its own can take away."""
        return self.__dict__.setdefault("_own", {})

    def prepared(self, order: Sequence[str]) -> list[Preparation]:
        found: list[Preparation] = []
        for class_id, nth in self.taken.items():
            class_ = self.catalog.class_(class_id)
            assert class_ is not None
            grant = self.spellcasting(class_, class_id, nth)
            if grant is None or grant.prepared is None or self.dice.random() < 0.3:
                continue
            most = self.value(grant.prepared, class_id, nth)
            if grant.preparation == "book":
                able = sorted(self.known.get(class_id, ()))
            else:
                able = [s.id for s in self.catalog.spells_of(grant.list)]
            top = self.top(class_id, nth)
            ids = [i for i in able if (s := self.catalog.spell(i)) is not None and 1 <= s.level <= top]
            ids = [i for i in ids if i not in self.always]
            chosen = self.dice.sample(ids, min(most, len(ids)))
            if chosen:
                found.append(Preparation(of=class_id, picks=tuple(Pick(id=i) for i in chosen)))
        return found

    # -- gear -----------------------------------------------------------------------------------------------------

    def gear(self, first: ClassContent) -> tuple[Pick, ...]:
        picks: list[Pick] = []
        for row in first.starting_gear:
            for entry in self.dice.choice(row.options):
                count, _, id_ = entry.rpartition(" ")
                if self.catalog.item(id_) is not None:
                    flags = (Flag(flag="carried"),) if self.dice.random() < 0.2 else ()
                    picks.append(Pick(id=id_, count=int(count or 1), items=flags))
        return tuple(picks)

    def trade(self) -> list[Item]:
        things = [n.id for n in self.catalog.every("item") if (i := self.catalog.item(n.id)) and i.category == "gear"]
        thing = Pick(id=self.dice.choice(sorted(things)))
        return [Gain(picks=(thing,)), Lose(picks=(thing,))]

    # -- formulas -------------------------------------------------------------------------------------------------

    def value(self, formula: Formula, owner: str | None, nth: int) -> int:
        value = formula.evaluate(self.scope(owner, nth))
        return value if isinstance(value, int) else 0

    def scope(self, owner: str | None, nth: int) -> Mapping[str, Any]:
        words: dict[str, Any] = {f"{a}_score": self.scores[a] for a in ABILITIES}
        words |= {a: (self.scores[a] - 10) // 2 for a in ABILITIES}
        class_ = self.catalog.class_(owner) if owner else None
        subclass = self.subclasses.get(owner or "")
        tables = {**(class_.tables if class_ else {}), **(subclass.tables if subclass else {})}
        everything: set[str] = set().union(*self.known.values()) if self.known else set()
        return words | {
            "class_level": nth,
            "character_level": self.level,
            "proficiency_bonus": self.release.proficiency_bonus[max(self.level, 1) - 1],
            "column": lambda name: (tables[name][nth - 1] or 0) if name in tables and nth >= 1 else 0,
            "level_of": lambda id_: self.taken.get(id_, 0),
            "has": lambda id_: id_ in self.held,
            "knows": lambda id_: id_ in everything,
            "state": lambda id_: False,
        }

    def in_order(self, items: Sequence[Item]) -> list[Item]:
        return merged(items)


def choose(keyword: str, ids: Iterable[str]) -> Choose:
    """Return picks without anything inside."""
    return Choose(keyword=keyword, picks=tuple(Pick(id=i) for i in ids))


def merged(items: Sequence[Item]) -> list[Item]:
    """Return the items with picks of one keyword together, as an outline writes them."""
    found: list[Item] = []
    for item in items:
        at = next(
            (i for i, f in enumerate(found) if isinstance(f, Choose) and isinstance(item, Choose)
             and f.keyword == item.keyword), None
        )  # fmt: skip
        if at is None or not isinstance(item, Choose):
            found.append(item)
            continue
        before = found[at]
        assert isinstance(before, Choose)
        found[at] = Choose(keyword=item.keyword, picks=(*before.picks, *item.picks))
    return found
