"""A build made ready for its numbers: grants by kind, when each kind changes, and one level of the whole."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from engine.rules.formula import Formula
from engine.rules.grants.attacks import ExtraDamage
from engine.rules.grants.proficiencies import Proficiency, ProficiencyBonus
from engine.rules.words import ABILITY_NAMES, ATTACK_WORDS, NUMBER_WORDS, UNLIMITED, WORN_WORDS, Ability
from engine.sheet.gathered import LAST_LEVEL, Gathered, Granted, Outfit
from engine.sheet.number import Number, Reason, signed

# What a formula may read that changes with the level although scores, proficiency bonus and gear stay the same.
_BY_LEVEL: Final = frozenset({"class_level", "character_level"})
_CALLS_BY_LEVEL: Final = frozenset({"column", "level_of", "has", "knows"})
_ABILITY_WORDS: Final[dict[str, str]] = {
    **{str(ability): name for ability, name in ABILITY_NAMES.items()},
    **{f"{ability}_score": name for ability, name in ABILITY_NAMES.items()},
}


@lru_cache(maxsize=4096)
def reads(formula: Formula) -> frozenset[str]:
    """Return what a formula reads: any of `score`, `bonus`, `gear`, `level` and `attack`."""
    found = set()
    for kind, word in _words(formula):
        if kind == "call":
            if word in _CALLS_BY_LEVEL:
                found.add("level")
            elif word == "wields":
                found.add("attack")
        elif word in ATTACK_WORDS:
            found.add("attack")
        elif word in WORN_WORDS:
            found.add("gear")
        elif word == "proficiency_bonus":
            found.add("bonus")
        elif word in _ABILITY_WORDS:
            found.add("score")
        elif word in _BY_LEVEL or (word.endswith("_level") and word not in NUMBER_WORDS):
            found.add("level")
    return frozenset(found)


@dataclass(frozen=True, slots=True)
class Reading:
    """What numbers depend on beside scores and gear.

    versions: for each level, from index 1 on, how often their grants have come or gone by then. by_level: formulas
    whose value can change with the level alone, and whether each also speaks of an attack. by_bonus, by_score,
    by_gear: whether any reads the proficiency bonus, ability scores, or what is worn.
    """

    versions: tuple[int, ...]
    by_level: tuple[tuple[Granted, Formula, bool], ...]
    by_bonus: bool
    by_score: bool
    by_gear: bool


class Plan:
    """Everything of a build that does not depend on the level one looks at.

    by_kind: grant kind -> grants in the order in which they come; proficiencies also by what they are in (`proficiency
    skill`), dice that every hit adds also as `extra-damage each-hit`. memo: what levels share, under keys that hold
    everything it depends on. needs: subject of numbers -> what its key is made of: the reading, the scores (None:
    all), whether it reads the proficiency bonus, and the gear.
    """

    def __init__(self, gathered: Gathered) -> None:
        self.gathered = gathered
        self.catalog = gathered.catalog
        self.release = gathered.catalog.release
        self.by_kind: dict[str, list[Granted]] = {}
        for granted in gathered.grants:
            grant = granted.grant
            self.by_kind.setdefault(grant.kind, []).append(granted)
            if isinstance(grant, Proficiency):
                self.by_kind.setdefault(f"proficiency {grant.of}", []).append(granted)
            elif isinstance(grant, ExtraDamage) and grant.how == "each-hit":
                self.by_kind.setdefault("extra-damage each-hit", []).append(granted)
        self.memo: dict[Any, Any] = {}
        self.needs: dict[str, tuple[Reading, tuple[Ability, ...] | None, bool, bool]] = {}
        self._readings: dict[frozenset[str], Reading] = {}
        self._rules: dict[str, str] = {}
        self._sources: dict[tuple[str, str, str | None], str] = {}

    def rule(self, key: str) -> str:
        """Return where a release-wide rule stands."""
        found = self._rules.get(key)
        if found is None:
            found = self._rules[key] = self.catalog.rule(key)
        return found

    def source(self, kind: str, id_: str, feature: str | None = None) -> str:
        """Return where a fact of the content stands (`Catalog.source`, looked up once)."""
        key = (kind, id_, feature)
        found = self._sources.get(key)
        if found is None:
            found = self._sources[key] = self.catalog.source(kind, id_, feature)
        return found

    def name_of(self, class_id: str) -> str:
        """Return a class's printed name."""
        found = self.gathered.classes.get(class_id)
        return found.name if found is not None else self.catalog.name_of("class", class_id)

    def reading(self, kinds: frozenset[str]) -> "Reading":
        """Return what numbers that come from grants of these kinds depend on beside scores and gear."""
        found = self._readings.get(kinds)
        if found is None:
            turns = [0] * (LAST_LEVEL + 3)
            by_level: list[tuple[Granted, Formula, bool]] = []
            seen: set[str] = set()
            for kind in kinds:
                for granted in self.by_kind.get(kind, ()):
                    turns[min(granted.since, LAST_LEVEL + 1)] += 1
                    turns[min(granted.until, LAST_LEVEL) + 1] += 1
                    for value in granted.grant.__dict__.values():
                        if isinstance(value, Formula) and value.constant is None:
                            words = reads(value)
                            seen.update(words)
                            if "level" in words:
                                by_level.append((granted, value, "attack" in words))
            run, versions = 0, []
            for turn in turns:
                run += turn
                versions.append(run)
            found = self._readings[kinds] = Reading(
                tuple(versions), tuple(by_level), "bonus" in seen, "score" in seen, "gear" in seen
            )
        return found

    def number_of(self, key: Any) -> int:
        """Return a small number that stands for a key, so that longer keys with it in them are quick to look up."""
        numbered: dict[Any, int] = self.memo.setdefault("numbered", {})
        return numbered.setdefault(key, len(numbered))

    def share(
        self, key: Any, at: "At", compute: Callable[[], dict[str, Number]], *, labels: bool = True
    ) -> dict[str, Number]:
        """Return numbers kept under a key, or work them out; of an earlier level only the bonus's label changes.

        The key must hold everything that the numbers depend on, the proficiency bonus included where they add it.
        labels: whether the label has to be that of this level, which nobody asks for who only wants values.
        """
        held = self.memo.get(key)
        if held is None:
            found = compute()
            self.memo[key] = [at.level, found, None]
            return found
        before, found, labelled = held
        if labels and before != at.level:
            if labelled is None:
                labelled = held[2] = _labelled(found, bonus_label(before))
            if labelled:
                found = held[1] = _relabelled(found, labelled, bonus_label(at.level))
                held[0] = at.level
        return found


class At:
    """A build at one character level: what holds there, and the words that formulas may read.

    scores, modifiers: by ability. bonus: proficiency bonus. outfit: what is worn and wielded. memo: what several
    subjects look up at this level.
    """

    def __init__(self, plan: Plan, level: int, scores: Mapping[Ability, int]) -> None:
        self.plan = plan
        self.level = level
        self.gathered = plan.gathered
        self.catalog = plan.catalog
        self.bonus_parts = _bonus_parts(plan, level)
        self.bonus = sum(int(r.amount) for r in self.bonus_parts)
        self.scores = scores
        self.modifiers: dict[Ability, int] = {a: (s - 10) // 2 for a, s in scores.items()}
        self.outfit: Outfit = plan.gathered.outfit(level)
        self.class_levels: dict[str, int] = {}
        for class_id in plan.gathered.build.order[:level]:
            self.class_levels[class_id] = self.class_levels.get(class_id, 0) + 1
        self._scopes: dict[str | None, Scope] = {}
        self._bonus_reasons: dict[str, Reason] = {}
        self.score_key = tuple(scores.values())
        self.memo: dict[str, Any] = {}

    def rule(self, key: str) -> str:
        """Return where a release-wide rule stands."""
        return self.plan.rule(key)

    def forget(self) -> None:
        """Let go of words that refer back to this level: where many are gone through, none waits for the collector."""
        self._scopes.clear()

    # -- what holds -------------------------------------------------------------------------------------------

    def active(self, kind: str) -> Sequence[Granted]:
        """Return the grants of a kind whose levels include this one, whatever their conditions."""
        known = self.plan.by_kind.get(kind)
        if known is None:
            return ()
        level = self.level
        return [granted for granted in known if granted.since <= level <= granted.until]

    def holding(self, kind: str) -> Sequence[Granted]:
        """Return the grants of a kind that hold at this level outside any attack."""
        known = self.plan.by_kind.get(kind)
        if known is None:
            return ()
        level = self.level
        found = []
        for granted in known:
            if granted.since <= level <= granted.until:
                when = granted.grant.when
                if when is None or when.evaluate(self.scope(granted.owner)):
                    found.append(granted)
        return found

    def value(self, granted: Granted, formula: Formula) -> Any:
        """Return what a formula of a grant is worth at this level."""
        constant = formula.constant
        return constant if constant is not None else formula.evaluate(self.scope(granted.owner))

    def key(self, kinds: frozenset[str]) -> tuple[Any, ...]:
        """Return what grants of these kinds, and their formulas that read levels, are worth now.

        It is the part of the key for what levels share that scores, gear and proficiency bonus do not cover.
        """
        return self.key_of(self.plan.reading(kinds))

    def key_of(self, reading: Reading) -> tuple[Any, ...]:
        """Return the key of a reading looked up before (`key`)."""
        level = self.level
        if not reading.by_level:
            return (reading.versions[level],)
        worth = [
            level if of_attack else formula.evaluate(self.scope(granted.owner))
            for granted, formula, of_attack in reading.by_level
            if granted.since <= level <= granted.until
        ]
        return (reading.versions[level], *worth)

    def owner_level(self, owner: str | None) -> int:
        """Return the level that `class_level` means for an owner."""
        return self.level if owner is None else self.class_levels.get(owner, 0)

    def knows(self, spell: str) -> bool:
        """Tell whether the build has a spell or cantrip at this level."""
        return any(
            s.spell == spell and s.since <= self.level <= s.until and s.how != "listed" for s in self.gathered.spells
        )

    def proficient(self, of: str, *ids: str) -> Granted | None:
        """Return the first grant of proficiency in any of the ids, or None."""
        for granted in self.holding(f"proficiency {of}"):
            grant = granted.grant
            if isinstance(grant, Proficiency) and any(id_ in grant.ids for id_ in ids):
                return granted
        return None

    # -- words ------------------------------------------------------------------------------------------------

    def scope(self, owner: str | None) -> "Scope":
        """Return the words of formulas for an owner; outside attacks every attack word is false."""
        found = self._scopes.get(owner)
        if found is None:
            found = self._scopes[owner] = Scope(self, owner)
        return found

    def word(self, owner: str | None, word: str) -> Any:
        """Return what a word of formulas means for an owner. Raises: KeyError for a word that no rule gives."""
        ability: Any = word
        if ability in self.modifiers:
            return self.modifiers[ability]
        if word in ATTACK_WORDS:
            return False
        match word:
            case "proficiency_bonus":
                return self.bonus
            case "character_level":
                return self.level
            case "class_level":
                return self.owner_level(owner)
            case "column":
                return self._columns(owner)
            case "level_of":
                return lambda id_: self.class_levels.get(id_, 0)
            case "state":
                return lambda id_: id_ in self.gathered.states
            case "has":
                return lambda id_: self.gathered.has(id_, self.level)
            case "knows":
                return self.knows
            case "wields":
                return lambda id_: False
            case "shield":
                return self.outfit.shield is not None
        ability = word.removesuffix("_score")
        if ability in self.scores:
            return self.scores[ability]
        return self._worn(word)

    def _worn(self, word: str) -> bool:
        armor = self.outfit.armor
        body = armor.item.armor if armor is not None and armor.item is not None else None
        match word:
            case "no_armor":
                return body is None
            case "metal_armor":
                return body is not None and body.metal
            case "light_armor" | "medium_armor" | "heavy_armor":
                return body is not None and f"{body.group}_armor" == word
        raise KeyError(word)

    def _columns(self, owner: str | None) -> Callable[[str], int | str]:
        if owner is None:
            return lambda name: 0
        nth = self.owner_level(owner)
        return lambda name: self.gathered.column(owner, name, nth)

    # -- reasons that many numbers share --------------------------------------------------------------------------

    def ability_reason(self, ability: Ability) -> Reason:
        """Return the reason `Dexterity 17` with its modifier."""
        key = ("ability", ability, self.scores[ability])
        found: Reason | None = self.plan.memo.get(key)
        if found is None:
            label = f"{ABILITY_NAMES[ability]} {self.scores[ability]}"
            found = Reason(label, self.modifiers[ability], self.rule("ability-scores"))
            self.plan.memo[key] = found
        return found

    def bonus_reason(self, source: str) -> Reason:
        """Return the reason `proficiency bonus, level 8`; source: what gives the proficiency."""
        found = self._bonus_reasons.get(source)
        if found is None:
            found = self._bonus_reasons[source] = Reason(bonus_label(self.level), self.bonus, source)
        return found

    def explain(self, granted: Granted, formula: Formula) -> str:
        """Return a formula with the values of its words, as a reason's label shows it; empty for a plain number."""
        if formula.constant is not None:
            return ""
        by_level, fixed, read = _template(formula)
        inputs = fixed
        if read:
            scope = self.scope(granted.owner)
            shown = [f"{name} {signed(scope[word]) if sign else scope[word]}" for name, word, sign in read]
            inputs = ", ".join([*shown, fixed] if fixed else shown)
        if by_level:
            owner = granted.owner
            level = f"{self.plan.name_of(owner) if owner is not None else 'level'} {self.owner_level(owner)}"
            return f"{level}, {inputs}" if inputs else level
        return inputs


class Scope(dict[str, Any]):
    """Words of formulas, looked up when first read; an attack puts its own words in beforehand."""

    __slots__ = ("_at", "_owner")

    def __init__(self, at: At, owner: str | None) -> None:
        super().__init__()
        self._at = at
        self._owner = owner

    def __missing__(self, word: str) -> Any:
        found = self[word] = self._at.word(self._owner, word)
        return found


def _bonus_parts(plan: Plan, level: int) -> list[Reason]:
    table = Reason(
        f"character level {level}", plan.release.proficiency_bonus[level - 1], plan.rule("proficiency-bonus")
    )
    parts = [table]
    for granted in plan.by_kind.get("proficiency-bonus", ()):
        grant = granted.grant
        if isinstance(grant, ProficiencyBonus) and granted.since <= level <= granted.until:
            amount = grant.amount.constant
            if isinstance(amount, int) and amount:
                parts.append(Reason(granted.label, amount, granted.source))
    return parts


def bonus_label(level: int) -> str:
    """Return the label under which the proficiency bonus stands among reasons."""
    return f"proficiency bonus, level {level}"


def _labelled(numbers: Mapping[str, Number], label: str) -> list[tuple[str, int]]:
    """Return where a label stands: names, and places among their reasons."""
    found = []
    for name, number in numbers.items():
        for place, reason in enumerate(number.reasons):
            if reason.label == label:
                found.append((name, place))
                break
    return found


def _relabelled(numbers: Mapping[str, Number], places: Iterable[tuple[str, int]], label: str) -> dict[str, Number]:
    """Return numbers of an earlier level for a later one with the same proficiency bonus: only its label changes."""
    made: dict[str, Reason] = {}
    found = dict(numbers)
    for name, place in places:
        value, unit, reasons, dice, beaten = found[name]
        _, amount, source = reasons[place]
        fresh = made.get(source)
        if fresh is None:
            fresh = made[source] = Reason(label, amount, source)
        found[name] = Number(value, unit, (*reasons[:place], fresh, *reasons[place + 1 :]), dice, beaten)
    return found


@lru_cache(maxsize=4096)
def _words(formula: Formula) -> tuple[tuple[str, str], ...]:
    """Return what a formula is made of, each once: (`word`, word), (`call`, function), (`column`, its name)."""
    return tuple(dict.fromkeys(_inputs(formula.tree)))


@lru_cache(maxsize=4096)
def _template(formula: Formula) -> tuple[bool, str, tuple[tuple[str, str, bool], ...]]:
    """Return how a formula is explained: whether by a level, fixed words, and (name, word, whether with a sign)."""
    by_level = False
    fixed: list[str] = []
    read: list[tuple[str, str, bool]] = []
    for kind, word in _words(formula):
        if kind == "column":
            by_level = True
            fixed.append(f"{word.replace('_', ' ')} column")
        elif kind == "call" or word == UNLIMITED:
            continue
        elif word in _ABILITY_WORDS:
            read.append((_ABILITY_WORDS[word], word, not word.endswith("_score")))
        elif word in _BY_LEVEL:
            by_level = True
        else:
            read.append((word.replace("_", " "), word, False))
    return by_level, ", ".join(fixed), tuple(read)


def _inputs(tree: Any) -> Iterator[tuple[str, str]]:
    if tree[0] == "word":
        yield ("word", tree[1])
    elif tree[0] == "call":
        yield ("call", tree[1])
        if tree[1] == "column":
            yield ("column", tree[2][0][1])
        for part in tree[2]:
            yield from _inputs(part)
    elif tree[0] != "value":
        for part in tree[1:]:
            if isinstance(part, tuple):
                yield from _inputs(part)
