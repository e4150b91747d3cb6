"""Grants in words: one short phrase for each, with the levels and the condition under which it holds."""

from collections.abc import Callable, Iterable
from typing import Any, Final

from engine.publish.facts.formulas import Speaker
from engine.rules.formula import Formula
from engine.rules.grants import AnyGrant
from engine.rules.words import ABILITY_NAMES

_RESTORED: Final = {
    "short-rest": "back after a short or long rest",
    "long-rest": "back after a long rest",
    "dawn": "back at dawn",
    "day": "once a day",
    "turn": "back each turn",
    "never": "never back",
}
_HOW: Final = {
    "each-hit": "on each hit",
    "once-per-turn": "once a turn",
    "on-critical": "on a critical hit",
    "per-use": "per use",
}
_DEFENSES: Final = {
    "resistance": "resistance to",
    "immunity": "immunity to",
    "vulnerability": "vulnerability to",
    "condition-immunity": "cannot be",
}
_ROLLS: Final = {
    "check": "checks",
    "save": "saving throws",
    "attack": "attacks",
    "initiative": "initiative",
    "death-save": "death saving throws",
    "damage": "damage rolls",
}
# What a class's casting lets be readied, by its preparation.
_PREPARATIONS: Final = {"known": "learned and kept", "prepared": "readied from the list", "book": "readied from a book"}
_PROGRESSIONS: Final = {
    "full": "every level counts for slots",
    "half-down": "half of its levels, rounded down, count for slots",
    "half-up": "half of its levels, rounded up, count for slots",
    "third-down": "a third of its levels, rounded down, count for slots",
    "pact": "pact slots of its own",
    "none": "no slots",
}


def grant_words(grant: AnyGrant, speaker: Speaker) -> str:
    """Return a grant in words, such as `from level 9: speed +10 (no armor worn)`. speaker: knows its owner."""
    text = _TELLERS[grant.kind](grant, speaker)
    if grant.when is not None:
        text += f" ({speaker.words(grant.when)})"
    if grant.level is not None and grant.until is not None:
        return f"levels {grant.level} to {grant.until}: {text}" if grant.level != grant.until else (
            f"level {grant.level}: {text}"
        )  # fmt: skip
    if grant.level is not None:
        return f"from level {grant.level}: {text}"
    if grant.until is not None:
        return f"until level {grant.until}: {text}"
    return text


def names_of(ids: Iterable[str], speaker: Speaker, *kinds: str) -> str:
    """Return ids by their printed names, parted by commas; kinds are tried in turn."""
    words = []
    for id_ in ids:
        ability: Any = id_
        if id_ in ABILITY_NAMES:
            words.append(ABILITY_NAMES[ability])
            continue
        named = next((n for kind in kinds if (n := speaker.catalog.named(kind, id_)) is not None), None)
        words.append(named.name if named is not None else id_.replace("-", " "))
    return ", ".join(words)


def _plus(amount: Formula, speaker: Speaker) -> str:
    words = speaker.words(amount)
    return words.replace("-", "−", 1) if words.startswith("-") else f"+{words}"


def _signed(amount: int) -> str:
    return f"+{amount}" if amount >= 0 else f"−{-amount}"


def _bracket(*parts: str | None) -> str:
    found = [part for part in parts if part]
    return f" ({'; '.join(found)})" if found else ""


def _checks(checks: Iterable[str], speaker: Speaker) -> str:
    named = list(checks)
    if "all" in named:
        return "all checks"
    if named == ["proficient"]:
        return "checks that add the whole proficiency bonus"
    return f"{names_of(named, speaker, 'skill', 'tool')} checks"


def _saves(saves: Iterable[str], speaker: Speaker) -> str:
    named = list(saves)
    return "all saving throws" if "all" in named else f"{names_of(named, speaker)} saving throws"


def _on(roll: str, of: Iterable[str], speaker: Speaker) -> str:
    named = list(of)
    return (
        _ROLLS[roll] if "all" in named or not named else f"{names_of(named, speaker, 'skill', 'tool')} {_ROLLS[roll]}"
    )


def _increase(g: Any, s: Speaker) -> str:
    cap = f" (to {g.cap} at most)" if g.cap != 20 else ""
    return f"{ABILITY_NAMES[g.ability]} {_signed(g.amount)}{cap}"


def _pool(g: Any, s: Speaker) -> str:
    uses = s.words(g.uses)
    unit = "use" if g.unit == "uses" and uses == "1" else g.unit
    name = f"{g.name}: " if g.name else ""
    die = f" of {s.words(g.die)}" if g.die is not None else ""
    plus = f" + {s.words(g.plus)}" if g.plus is not None else ""
    return f"{name}{uses} {unit}{die}{plus}, {_RESTORED[g.restored]}"


def _choice(g: Any, s: Speaker) -> str:
    word = g.keyword.replace("-", " ")
    if g.keyword == "increase":
        how = f"{_signed(g.amount)} to one ability score" + (", or spread over two" if g.split else "")
        return f"{how}{', or a feat' if g.or_feat else ''} (to {g.cap} at most)"
    count = f"{s.words(g.total)} in all" if g.total is not None else s.words(g.count) if g.count is not None else "1"
    kinds = ("skill", "tool", "language", f"option:{g.keyword}", "spell", "item")
    parts = [
        f"from {names_of(g.from_, s, *kinds)}" if g.from_ else "",
        f"not {names_of(g.but, s, *kinds)}" if g.but else "",
        f"from the {s.catalog.name_of('class', g.list).lower()} list" if g.list else "",
        f"of spell level {s.words(g.spell_level)} at most" if g.spell_level is not None else "",
        "always prepared" if g.always_prepared else "",
        f"cast with {ABILITY_NAMES[g.ability]}" if g.ability else "",
        f"{g.swaps} may be exchanged at a later level" if g.swaps else "",
    ]  # fmt: skip
    return f"choose {word}: {count}{_bracket(*parts)}"


def _spellcasting(g: Any, s: Speaker) -> str:
    counts = [
        f"{label} {s.words(formula)}"
        for label, formula in (
            ("cantrips", g.cantrips),
            ("spells known", g.known),
            ("spells prepared", g.prepared),
            ("in the book", g.book),
        )
        if formula is not None
    ]  # fmt: skip
    ritual = "rituals" if g.ritual != "no" else ""
    parts = (
        f"{s.catalog.name_of('class', g.list).lower()} spells with {ABILITY_NAMES[g.ability]}",
        _PREPARATIONS[g.preparation],
        _PROGRESSIONS[g.progression],
        *counts,
        ritual,
    )
    return "; ".join(part for part in parts if part)


def _extra_spells(g: Any, s: Speaker) -> str:
    how = {"prepared": "always prepared", "known": "learned besides", "innate": "innate", "listed": "added to the list"}
    by_level: dict[int, list[str]] = {}
    for at in g.spells:
        uses = f" {s.words(at.uses)} a {'long rest' if at.restored == 'long-rest' else 'rest'}" if at.uses else ""
        by_level.setdefault(at.level, []).append(f"{s.catalog.name_of('spell', at.id)}{uses}")
    listed = "; ".join(
        (f"at level {level} " if level > 1 else "") + ", ".join(names) for level, names in sorted(by_level.items())
    )
    ability = f" with {ABILITY_NAMES[g.ability]}" if g.ability else ""
    return f"{how[g.how]}{ability}: {listed}"


def _speed(g: Any, s: Speaker) -> str:
    mode = "speed" if g.mode == "walk" else f"{g.mode} speed"
    amount = s.words(g.amount) if g.amount is not None else ""
    return {
        "set": f"{mode} {amount} feet",
        "add": f"{mode} {_plus(g.amount, s) if g.amount is not None else ''} feet",
        "equals-walk": f"{mode} equal to walking speed",
        "double": f"{mode} doubled",
        "halve": f"{mode} halved",
        "zero": f"{mode} 0",
    }[g.how]


def _extra_damage(g: Any, s: Speaker) -> str:
    kind = f" {names_of((g.damage,), s, 'damage-type').lower()}" if g.damage else ""
    pool = f" of {g.pool.replace('-', ' ')}" if g.pool and g.how == "per-use" else ""
    slot = f"{g.by_slot} more for each slot level above 1" if g.by_slot else None
    most = f"{g.most} at most" if g.most else None
    return f"{s.words(g.dice)}{kind} extra damage {_HOW[g.how]}{pool}{_bracket(g.limited, slot, most)}"


def _extra_die(g: Any, s: Speaker) -> str:
    whose = {"own": "your", "ally": "an ally's", "foe": "a foe's", "any": "anybody's"}[g.whose]
    rolls = ", ".join(_on(roll, g.of, s) for roll in g.rolls)
    paid = f"uses {g.pool.replace('-', ' ')}" if g.pool else None
    return f"{g.sign}{s.words(g.die)} on {whose} {rolls}{_bracket(paid)}"


def _spell_damage(g: Any, s: Speaker) -> str:
    which = [
        names_of(g.spells, s, "spell"),
        f"{', '.join(g.schools)} spells" if g.schools else "",
        f"{names_of(g.damage, s, 'damage-type').lower()} damage" if g.damage else "",
        f"{names_of(g.lists, s, 'class').lower()} spells" if g.lists else "",
        "cantrips" if g.cantrips else "",
    ]
    each = "one damage roll of a casting" if g.each == "casting" else "the damage of each hit"
    return f"{_plus(g.amount, s)} to {each}{_bracket(*which)}"


def _armor_formula(g: Any, s: Speaker) -> str:
    added = "".join(f" + {ABILITY_NAMES[a]} modifier" for a in g.add)
    return f"armor class {g.base}{added}, {'a shield may be added' if g.shield else 'no shield'}"


def _defense(g: Any, s: Speaker) -> str:
    to = "all damage" if "all" in g.to else names_of(g.to, s, "damage-type", "condition").lower()
    return f"{_DEFENSES[g.defense]} {to}{_bracket(g.limited)}"


def _advantage(g: Any, s: Speaker) -> str:
    against = f"against {g.against}" if g.against else None
    return f"{g.mode} on {_on(g.roll, g.of, s)}{_bracket(against, g.limited)}"


def _shape(g: Any, s: Speaker) -> str:
    without = f", without {' or '.join(g.without)} speed" if g.without else ""
    return f"beasts of challenge {g.challenge} or less{without}, for hours equal to {s.words(g.hours)}"


def _natural(g: Any, s: Speaker) -> str:
    ability = "Strength or Dexterity" if g.finesse else ABILITY_NAMES[g.ability]
    return f"{g.name}: {s.words(g.die)} {g.damage}, with {ability}"


def _proficiency(g: Any, s: Speaker) -> str:
    kinds = {
        "skill": ("skill",), "save": (), "language": ("language",), "tool": ("tool", "item"),
        "weapon": ("weapon-group", "item"), "armor": ("armor-group", "item"),
    }[g.of]  # fmt: skip
    words = {"save": "saving throws", "weapon": "weapons", "armor": "armor", "tool": "tools", "skill": "skills"}
    return f"{words.get(g.of, 'languages')}: {names_of(g.ids, s, *kinds)}"


_Teller = Callable[[Any, Speaker], str]
_TELLERS: Final[dict[str, _Teller]] = {
    "ability-increase": _increase,
    "ability-cap": lambda g, s: f"{ABILITY_NAMES[g.ability]} can reach {g.cap}",
    "ability-set": lambda g, s: f"{ABILITY_NAMES[g.ability]} {g.score} if it was lower",
    "proficiency": _proficiency,
    "expertise": lambda g, s: f"twice the proficiency bonus: {names_of(g.ids, s, 'skill', 'tool')}",
    "half-proficiency": lambda g, s: (
        f"half the proficiency bonus, rounded {g.rounded}, on {_checks(g.checks, s)} without the whole of it"
    ),
    "proficiency-bonus": lambda g, s: f"proficiency bonus {_plus(g.amount, s)}",
    "lowest-d20": lambda g, s: f"a d20 below {g.at_least} counts as {g.at_least} on {_floored(g, s)}",
    "reroll-d20": lambda g, s: (
        f"a d20 of {g.at_most} or less is rolled once more on {', '.join(_ROLLS[r] for r in g.rolls)}"
    ),
    "lowest-total": lambda g, s: f"{_checks(g.checks, s)} total at least the {s.words(g.total)}",
    "advantage": _advantage,
    "extra-die": _extra_die,
    "check-bonus": lambda g, s: f"{_plus(g.amount, s)} on {_checks(g.checks, s)}",
    "passive-bonus": lambda g, s: f"{_plus(g.amount, s)} to passive {names_of(g.skills, s, 'skill')}",
    "save-bonus": lambda g, s: (
        f"{_plus(g.amount, s)} on {_saves(g.saves, s)}{f' against {g.against}' if g.against else ''}"
    ),
    "initiative-bonus": lambda g, s: f"{_plus(g.amount, s)} on initiative",
    "hit-points": lambda g, s: (
        f"hit points {_plus(g.amount, s)}{' for each level' if g.times == 'each-level' else ''}"
    ),
    "hit-points-halved": lambda g, s: "hit point maximum halved",
    "armor-formula": _armor_formula,
    "armor-bonus": lambda g, s: f"armor class {_plus(g.amount, s)}",
    "armor-floor": lambda g, s: f"armor class at least {g.least}",
    "speed": _speed,
    "speed-unburdened": lambda g, s: "heavy armor does not slow",
    "sense": lambda g, s: f"{g.sense} {'+' if g.extends else ''}{s.words(g.feet)} feet",
    "defense": _defense,
    "carrying": lambda g, s: f"carrying capacity × {g.times}",
    "jump": lambda g, s: (
        f"{'long jumps' if g.jump == 'long' else 'jumps'} × {g.times}"
        if g.times is not None
        else f"running {'long jumps' if g.jump == 'long' else 'jumps'} {_plus(g.feet, s)} feet"
    ),
    "size": lambda g, s: f"size {g.size}",
    "save-dc": lambda g, s: (
        f"{names_of((g.id,), s, 'feature')} save DC: {g.base} + proficiency bonus + {ABILITY_NAMES[g.ability]} modifier"
    ),
    "attunement": lambda g, s: f"{g.items} items can be attuned",
    "attack-bonus": lambda g, s: f"{_plus(g.amount, s)} to hit",
    "damage-bonus": lambda g, s: f"{_plus(g.amount, s)} to damage",
    "damage-reroll": lambda g, s: f"weapon damage dice of {g.at_most} or less are rolled once more",
    "off-hand-modifier": lambda g, s: "the second weapon's damage adds the ability modifier",
    "critical-range": lambda g, s: f"critical hits on {g.from_} to 20",
    "extra-critical-dice": lambda g, s: f"{s.words(g.dice)} more of the weapon's dice on a critical hit",
    "attacks": lambda g, s: f"{s.words(g.number)} attacks with the Attack action",
    "extra-damage": _extra_damage,
    "weapon-ability": lambda g, s: f"{ABILITY_NAMES[g.ability]} may be used for the attack",
    "weapon-die": lambda g, s: f"damage die {s.words(g.die)}",
    "natural-weapon": _natural,
    "spell-damage": _spell_damage,
    "pool": _pool,
    "spellcasting": _spellcasting,
    "extra-spells": _extra_spells,
    "casting-bonus": lambda g, s: (
        f"{_plus(g.amount, s)} to spell {' and '.join('save DC' if t == 'save_dc' else t for t in g.to)}"
        f"{_bracket(names_of(g.lists, s, 'class'))}"
    ),
    "slot-bonus": lambda g, s: f"{_plus(g.amount, s)} spell slots of level {g.slot}",
    "choice": _choice,
    "note": lambda g, s: g.text,
    "ruling": lambda g, s: f"for the table to rule: {g.text}",
    "shape-limit": _shape,
}  # fmt: skip


def _floored(g: Any, s: Speaker) -> str:
    parts = [_checks(g.checks, s) if g.checks else "", _saves(g.saves, s) if g.saves else ""]
    return " and ".join(part for part in parts if part)


TOLD_KINDS: Final = frozenset(_TELLERS)
