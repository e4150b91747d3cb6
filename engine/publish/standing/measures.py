"""The numbers by which builds are measured, at one level."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from engine.publish.standing.damage import Level, Swing, swings
from engine.publish.standing.typical import Typical
from engine.publish.words import ability
from engine.rules.words import ABILITIES
from engine.sheet import checks
from engine.sheet.number import Number

# Name -> what it is called. Names with a dot behind the first are those of the sheet; the others are made here.
MEASURES: Final[dict[str, str]] = {
    "hp.max": "hit points",
    "ac": "armor class",
    **{f"save.{each}": f"{ability(each)} save" for each in ABILITIES},
    "initiative": "initiative",
    "speed.walk": "speed",
    "skill.perception.passive": "passive Perception",
    "skills.trained": "trained skills",
    "skills.best": "best trained skill",
    "save_dc.highest": "highest save DC",
    "damage.round": "damage a round",
    "damage.ranged": "ranged damage a round",
}
_SIGNED: Final = ("save.", "initiative", "skills.best")


@dataclass(frozen=True, slots=True)
class Measured:
    """A build at one level: its measures, and its ways to deal damage."""

    level: Level
    values: Mapping[str, float]
    swings: tuple[Swing, ...]

    def best(self, typical: Typical, *, ranged: bool = False) -> Swing | None:
        """Return the way that deals most in a round against what is typical; None if there is none."""
        fitting = [s for s in self.swings if s.ranged or not ranged]
        return max(fitting, key=lambda s: mean_against(s, typical), default=None)


def mean_against(swing: Swing, typical: Typical) -> float:
    """Return the mean damage of a round against the typical armor class, or the typical save."""
    return swing.mean(typical.ac, typical.saves[swing.ability] if swing.ability is not None else 0)


def measured(level: Level, typical: Typical) -> Measured:
    """Return the measures of a build at a level; what it does not have at all counts 0."""
    numbers = level.numbers
    values: dict[str, float] = {}
    trained = [float(value) for name in _trained(level) if not isinstance(value := numbers[name].value, str)]
    found = swings(level)
    means = [(mean_against(swing, typical), swing.ranged) for swing in found]
    for name in MEASURES:
        found_number = numbers.get(name)
        if found_number is not None and not isinstance(found_number.value, str):
            values[name] = float(found_number.value)
    values["skills.trained"] = float(len(trained))
    values["skills.best"] = max(trained, default=0.0)
    values["save_dc.highest"] = max(
        (float(value) for name in _save_dcs(level) if not isinstance(value := numbers[name].value, str)), default=0.0
    )
    values["damage.round"] = max((mean for mean, _ in means), default=0.0)
    values["damage.ranged"] = max((mean for mean, ranged in means if ranged), default=0.0)
    return Measured(level, {name: round(values.get(name, 0.0), 6) for name in MEASURES}, found)


def _trained(level: Level) -> Sequence[str]:
    """Return the names of the skills that add the proficiency bonus."""
    at = level.at
    reading = at.plan.reading(checks.KINDS)
    read = (at.score_key if reading.by_score else (), at.bonus if reading.by_bonus else 0, at.outfit.since)
    key = ("trained skills", at.key_of(reading), read)
    memo = at.plan.memo
    if key not in memo:
        names = [f"skill.{skill.id}" for skill in level.catalog.release.skills]
        memo[key] = [name for name in names if _adds_bonus(level.numbers[name])]
    found: Sequence[str] = memo[key]
    return found


def _adds_bonus(number: Number) -> bool:
    return any(reason.label.startswith("proficiency bonus") for reason in number.reasons)


def _save_dcs(level: Level) -> Sequence[str]:
    """Return the names of the save DCs that a build has at a level."""
    key = ("save DCs", tuple(level.numbers))
    memo = level.at.plan.memo
    if key not in memo:
        memo[key] = [name for name in level.numbers if name.endswith(".save_dc")]
    found: Sequence[str] = memo[key]
    return found


def called(name: str) -> str:
    """Return what a measure is called."""
    return MEASURES[name]


def told(name: str, value: float) -> str:
    """Return a measure's value as people write it: `+4`, `56`, `12.6`."""
    rounded = round(value, 1)
    if name.startswith(_SIGNED):
        return f"{rounded:+g}"
    return f"{rounded:g}"
