"""The build at the moment of a pick, as formulas of folios see it."""

from collections.abc import Iterator, Mapping
from typing import Any

from engine.audit.context import AuditContext
from engine.rules.words import ABILITIES, ATTACK_WORDS, NUMBER_WORDS, WORN_WORDS
from engine.sheet.gathered import Granted


class Moment(Mapping[str, Any]):
    """Words and functions of formulas for one class's eyes at one character level.

    Scores are those before the level's own increases, since a prerequisite must be met when the pick is made.
    Attack words are false, no state is switched on.
    """

    def __init__(self, ctx: AuditContext, level: int, owner: str | None) -> None:
        self._ctx = ctx
        self._level = level
        self._owner = owner

    def __getitem__(self, word: str) -> Any:
        ctx, level = self._ctx, self._level
        match word:
            case "character_level":
                return level
            case "class_level":
                return level if self._owner is None else ctx.gathered.class_level(self._owner, level)
            case "proficiency_bonus":
                return ctx.catalog.release.proficiency_bonus[level - 1]
            case "level_of":
                return lambda class_id: ctx.gathered.class_level(class_id, level)
            case "has":
                return lambda id_: ctx.gathered.has(id_, level)
            case "knows":
                return lambda id_: ctx.knows(id_, level)
            case "state" | "wields":
                return lambda id_: False
            case "column":
                return lambda name: self._column(name)
        if word in ABILITIES:
            return (self._score(word) - 10) // 2
        if word.endswith("_score") and word.removesuffix("_score") in ABILITIES:
            return self._score(word.removesuffix("_score"))
        if word in WORN_WORDS:
            return self._worn(word)
        if word in ATTACK_WORDS:
            return False
        raise KeyError(word)

    def __iter__(self) -> Iterator[str]:
        return iter(NUMBER_WORDS)

    def __len__(self) -> int:
        return len(NUMBER_WORDS)

    def _score(self, ability: str) -> int:
        scores: Mapping[str, int] = {str(a): s for a, s in self._ctx.scores_before(self._level).items()}
        return scores.get(ability, 10)

    def _column(self, name: str) -> int | str:
        if self._owner is None:
            return 0
        gathered = self._ctx.gathered
        return gathered.column(self._owner, name, gathered.class_level(self._owner, self._level))

    def _worn(self, word: str) -> bool:
        outfit = self._ctx.gathered.outfit(self._level)
        armor = outfit.armor.item.armor if outfit.armor is not None and outfit.armor.item is not None else None
        shield = outfit.shield.item.armor if outfit.shield is not None and outfit.shield.item is not None else None
        match word:
            case "no_armor":
                return armor is None
            case "shield":
                return shield is not None
            case "metal_armor":
                return any(body is not None and body.metal for body in (armor, shield))
            case _:
                return armor is not None and f"{armor.group}_armor" == word


def holds(ctx: AuditContext, granted: Granted, level: int) -> bool:
    """Tell whether the condition of a grant, if it has one, is met at a level."""
    when = granted.grant.when
    return when is None or bool(when.evaluate(Moment(ctx, level, granted.owner)))
