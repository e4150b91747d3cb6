"""Saving throws (SRD 5.1, Using Ability Scores, Saving Throws)."""

from engine.rules.grants.rolls import SaveBonus
from engine.rules.words import ABILITIES
from engine.sheet.number import Number, Reason, total
from engine.sheet.plan import At

KINDS = frozenset({"proficiency save", "save-bonus"})


def saves(at: At) -> dict[str, Number]:
    """Return `save.X` for all six abilities. Bonuses that hold only against something are notes."""
    numbers: dict[str, Number] = {}
    bonuses = [
        (Reason(granted.label, amount, granted.source), granted.grant.saves)
        for granted in at.holding("save-bonus")
        if isinstance(granted.grant, SaveBonus)
        and granted.grant.against is None
        and (amount := at.value(granted, granted.grant.amount))
    ]
    for ability in ABILITIES:
        reasons = [at.ability_reason(ability)]
        granted = at.proficient("save", ability)
        if granted is not None:
            reasons.append(at.bonus_reason(granted.source))
        reasons.extend(reason for reason, of in bonuses if "all" in of or ability in of)
        numbers[f"save.{ability}"] = total(reasons, "bonus")
    return numbers
