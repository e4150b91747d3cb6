"""A build made ready for its numbers: grants by kind, when each kind changes, and one level of the whole."""

from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import Any, Final

from engine.rules.formula import Formula
from engine.rules.grants.proficiencies import Proficiency, ProficiencyBonus
from engine.rules.words import ABILITIES, ABILITY_NAMES, ATTACK_WORDS, NUMBER_WORDS, Ability
from engine.sheet.gathered import LAST_LEVEL, Gathered, Granted, Outfit
from engine.sheet.number import Number, Reason, signed

# What a formula may read that changes with the level although scores, proficiency bonus and gear stay the same.
_BY_LEVEL: Final = frozenset({"class_level", "character_level"})
_CALLS_BY_LEVEL: Final = frozenset({"column", "level_of", "has", "knows"})
_NO_ATTACK: Final[dict[str, Any]] = dict.fromkeys(ATTACK_WORDS, False) | {"wields": lambda id_: False}


@lru_cache(maxsize=4096)
def reads_level(formula: Formula) -> bool:
    """Tell whether the value of a formula can change with the level alone."""
    return _reads_level(formula.tree)


def _reads_level(tree: Any) -> bool:
    if not isinstance(tree, tuple) or not tree:
        return False
    if tree[0] == "word":
        word = tree[1]
        return word in _BY_LEVEL or (word.endswith("_level") and word not in NUMBER_WORDS)
    if tree[0] == "call" and tree[1] in _CALLS_BY_LEVEL:
        return True
    return any(_reads_level(part) for part in tree[1:]) or (
        isinstance(tree[0], tuple) and any(_reads_level(part) for part in tree)
    )


class Plan:
    """Everything of a build that does not depend on the level one looks at.

    by_kind: grant kind -> grants in the order in which they come. `version(kinds)` gives for each level a number that
    changes exactly when the grants of these kinds do, so that levels can share what did not change.
    """

    def __init__(self, gathered: Gathered) -> None:
        self.gathered = gathered
        self.catalog = gathered.catalog
        self.release = gathered.catalog.release
        self.by_kind: dict[str, list[Granted]] = {}
        for granted in gathered.grants:
            self.by_kind.setdefault(granted.grant.kind, []).append(granted)
        self.memo: dict[Any, Any] = {}
        self._versions: dict[frozenset[str], tuple[int, ...]] = {}
        self._by_level: dict[frozenset[str], bool] = {}
        self._rules: dict[str, str] = {}

    def rule(self, key: str) -> str:
        """Return where a release-wide rule stands."""
        found = self._rules.get(key)
        if found is None:
            found = self._rules[key] = self.catalog.rule(key)
        return found

    def version(self, kinds: frozenset[str]) -> tuple[int, ...]:
        """Return for each level, from index 1 on, how often grants of these kinds have come or gone by then."""
        found = self._versions.get(kinds)
        if found is None:
            turns = [0] * (LAST_LEVEL + 3)
            for kind in kinds:
                for granted in self.by_kind.get(kind, ()):
                    turns[min(granted.since, LAST_LEVEL + 1)] += 1
                    turns[min(granted.until, LAST_LEVEL) + 1] += 1
            run, counts = 0, []
            for turn in turns:
                run += turn
                counts.append(run)
            found = self._versions[kinds] = tuple(counts)
        return found

    def by_level(self, kinds: frozenset[str]) -> bool:
        """Tell whether a formula among the grants of these kinds can change with the level alone."""
        found = self._by_level.get(kinds)
        if found is None:
            found = self._by_level[kinds] = any(
                isinstance(value, Formula) and value.constant is None and reads_level(value)
                for kind in kinds
                for granted in self.by_kind.get(kind, ())
                for value in granted.grant.__dict__.values()
            )
        return found


class At:
    """A build at one character level: what holds there, and the words that formulas may read.

    scores, modifiers: by ability. bonus: proficiency bonus. outfit: what is worn and wielded.
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
        self._scopes: dict[str | None, dict[str, Any]] = {}
        self._bonus_reasons: dict[str, Reason] = {}

    def rule(self, key: str) -> str:
        """Return where a release-wide rule stands."""
        return self.plan.rule(key)

    # -- what holds -------------------------------------------------------------------------------------------

    def active(self, kind: str) -> Iterator[Granted]:
        """Yield the grants of a kind whose levels include this one, whatever their conditions."""
        level = self.level
        for granted in self.plan.by_kind.get(kind, ()):
            if granted.since <= level <= granted.until:
                yield granted

    def holding(self, kind: str) -> Iterator[Granted]:
        """Yield the grants of a kind that hold at this level outside any attack."""
        for granted in self.active(kind):
            when = granted.grant.when
            if when is None or when.evaluate(self.scope(granted.owner)):
                yield granted

    def value(self, granted: Granted, formula: Formula) -> Any:
        """Return what a formula of a grant is worth at this level."""
        constant = formula.constant
        return constant if constant is not None else formula.evaluate(self.scope(granted.owner))

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
        for granted in self.holding("proficiency"):
            grant = granted.grant
            if isinstance(grant, Proficiency) and grant.of == of and any(id_ in grant.ids for id_ in ids):
                return granted
        return None

    # -- words ------------------------------------------------------------------------------------------------

    def scope(self, owner: str | None) -> dict[str, Any]:
        """Return the words of formulas for an owner; outside attacks every attack word is false."""
        found = self._scopes.get(owner)
        if found is None:
            if None in self._scopes:
                found = dict(self._scopes[None])
            else:
                found = self._common()
            nth = found["class_level"] = self.owner_level(owner)
            found["column"] = self._columns(owner, nth)
            self._scopes[owner] = found
        return found

    def _columns(self, owner: str | None, nth: int) -> Callable[[str], int | str]:
        if owner is None:
            return lambda name: 0
        return lambda name: self.gathered.column(owner, name, nth)

    def _common(self) -> dict[str, Any]:
        armor = self.outfit.armor
        body = armor.item.armor if armor is not None and armor.item is not None else None
        group = body.group if body is not None else None
        scope: dict[str, Any] = {
            **_NO_ATTACK,
            "proficiency_bonus": self.bonus,
            "character_level": self.level,
            "no_armor": group is None,
            "light_armor": group == "light",
            "medium_armor": group == "medium",
            "heavy_armor": group == "heavy",
            "metal_armor": body is not None and body.metal,
            "shield": self.outfit.shield is not None,
            "level_of": lambda id_: self.class_levels.get(id_, 0),
            "state": lambda id_: id_ in self.gathered.states,
            "has": lambda id_: self.gathered.has(id_, self.level),
            "knows": self.knows,
        }
        for ability in ABILITIES:
            scope[ability] = self.modifiers[ability]
            scope[f"{ability}_score"] = self.scores[ability]
        return scope

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
        scope = self.scope(granted.owner)
        owner = granted.owner
        name = self.catalog.name_of("class", owner) if owner is not None else "level"
        inputs = []
        for kind, word in sorted(set(_inputs(formula.tree))):
            if kind == "column":
                inputs.append(f"{word.replace('_', ' ')} column")
            elif word in ABILITY_NAMES:
                inputs.append(f"{ABILITY_NAMES[word]} {signed(scope[word])}")
            elif word == "class_level":
                continue
            elif word in scope:
                inputs.append(f"{word.replace('_', ' ')} {scope[word]}")
        return ", ".join([f"{name} {self.owner_level(owner)}", *inputs])


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


def relabelled(numbers: Mapping[str, Number], before: int, now: int) -> dict[str, Number]:
    """Return numbers of an earlier level for a later one with the same proficiency bonus: only its label changes."""
    old, new = bonus_label(before), bonus_label(now)
    made: dict[int, Reason] = {}
    found: dict[str, Number] = {}
    for name, number in numbers.items():
        for reason in number.reasons:
            if reason.label == old:
                break
        else:
            found[name] = number
            continue
        parts = []
        for reason in number.reasons:
            if reason.label == old:
                fresh = made.get(id(reason))
                if fresh is None:
                    fresh = made[id(reason)] = Reason(new, reason.amount, reason.source)
                reason = fresh
            parts.append(reason)
        found[name] = Number(number.value, number.unit, tuple(parts), number.dice, number.beaten)
    return found


def _inputs(tree: Any) -> Iterator[tuple[str, str]]:
    if not isinstance(tree, tuple) or not tree:
        return
    if tree[0] == "word":
        yield ("word", tree[1])
    elif tree[0] == "call":
        if tree[1] == "column":
            yield ("column", tree[2][0][1])
        for part in tree[2]:
            yield from _inputs(part)
    else:
        for part in tree[1:]:
            yield from _inputs(part)
