"""What is no number: advantage, resistances, extra dice, criticals, facts of features (SheetNote)."""

from collections.abc import Callable, Iterator
from typing import Any, Final

from engine.rules.formula import Formula
from engine.rules.grants.attacks import CriticalRange, ExtraCriticalDice, ExtraDamage, SpellDamage
from engine.rules.grants.body import Defense, Size
from engine.rules.grants.choices import Note, ShapeLimit
from engine.rules.grants.rolls import Advantage, ExtraDie, LowestD20, RerollD20, SaveBonus
from engine.rules.words import ABILITY_NAMES
from engine.sheet.armor import untrained
from engine.sheet.carrying import attunement_limit
from engine.sheet.gathered import Granted
from engine.sheet.number import SheetNote, signed
from engine.sheet.plan import At, reads
from engine.sheet.strike import counts_each_hit

KINDS: Final = frozenset(
    {
        "advantage", "extra-die", "reroll-d20", "lowest-d20", "save-bonus", "defense", "critical-range",
        "extra-critical-dice", "extra-damage", "spell-damage", "note", "shape-limit",
        "size", "proficiency armor", "attunement",
    }
)  # fmt: skip
_ROLLS: Final = {
    "check": "checks",
    "save": "saves",
    "attack": "attacks",
    "initiative": "initiative",
    "death-save": "death saves",
    "damage": "damage rolls",
}
_DEFENSES: Final = {
    "resistance": "resistance to",
    "immunity": "immunity to",
    "vulnerability": "vulnerability to",
    "condition-immunity": "cannot be",
}


def known(at: At) -> tuple[Any, ...]:
    """Return what the notes read beside grants: whether each state that is on can be."""
    states = (at.catalog.state(id_) for id_ in at.gathered.states)
    return tuple(
        at.gathered.has(state.needs, at.level) or at.knows(state.needs)
        for state in states
        if state is not None and state.needs is not None
    )


def notes(at: At) -> tuple[SheetNote, ...]:
    """Return the notes that hold at a level, in the order in which their features came."""
    found: list[tuple[int, SheetNote]] = []
    level = at.level
    for kind, write in _WRITERS.items():
        for granted in at.plan.by_kind.get(kind, ()):
            if granted.since <= level <= granted.until and _there(at, granted):
                note = _note_of(at, granted, write)
                if note is not None:
                    found.append((granted.since, note))
    found.sort(key=lambda f: f[0])
    unique = dict.fromkeys(note for _, note in found)
    return (*unique, *_of_armor(at), *_of_weapons(at), *_of_states(at), *_of_attunement(at))


def _note_of(at: At, granted: Granted, write: "_Writer") -> SheetNote | None:
    """Return a grant's note; what has no formula reads the same at every level."""
    key = ("note", id(granted))
    if key in at.plan.memo:
        kept: SheetNote | None = at.plan.memo[key]
        return kept
    text = write(at, granted, granted.grant)
    found = SheetNote(granted.label, text, granted.source) if text else None
    if all(v.constant is not None for v in granted.grant.__dict__.values() if isinstance(v, Formula)):
        at.plan.memo[key] = found
    return found


def _there(at: At, granted: Granted) -> bool:
    # A condition that speaks of one attack cannot be judged here: that the grant is there at all is what a note says.
    when = granted.grant.when
    if when is None or (_of_attack(granted) and "attack" in reads(when)):
        return True
    return bool(when.evaluate(at.scope(granted.owner)))


def _of_attack(granted: Granted) -> bool:
    grant = granted.grant
    return grant.kind in _OF_ATTACKS or (isinstance(grant, Advantage) and grant.roll == "attack")


def _limits(*parts: str | None) -> str:
    found = [p for p in parts if p]
    return f" ({'; '.join(found)})" if found else ""


def _words(at: At, ids: tuple[str, ...], kinds: tuple[str, ...]) -> str:
    words = []
    for id_ in ids:
        ability: Any = id_
        if id_ in ABILITY_NAMES:
            words.append(ABILITY_NAMES[ability])
            continue
        named = next((n for kind in kinds if (n := at.catalog.named(kind, id_)) is not None), None)
        words.append(named.name if named is not None else id_.replace("-", " "))
    return ", ".join(words)


def _on(at: At, roll: str, of: tuple[str, ...]) -> str:
    plain = _ROLLS[roll]
    if "all" in of or not of:
        return plain if roll in ("initiative", "death-save") else f"all {plain}"
    return f"{_words(at, of, ('skill', 'tool'))} {plain}"


def _advantage(at: At, granted: Granted, grant: Advantage) -> str:
    against = f"against {grant.against}" if grant.against else None
    return f"{grant.mode} on {_on(at, grant.roll, grant.of)}{_limits(against, grant.limited)}"


def _extra_die(at: At, granted: Granted, grant: ExtraDie) -> str:
    die = at.value(granted, grant.die)
    whose = {"own": "your", "ally": "an ally's", "foe": "a foe's", "any": "anybody's"}[grant.whose]
    rolls = ", ".join(_on(at, roll, grant.of) if "all" not in grant.of else _ROLLS[roll] for roll in grant.rolls)
    sign = "+" if grant.sign == "+" else "-"
    paid = f"uses {grant.pool.replace('-', ' ')}" if grant.pool else None
    return f"{sign}{die} on {whose} {rolls}{_limits(paid)}"


def _reroll(at: At, granted: Granted, grant: RerollD20) -> str:
    rolls = ", ".join(_ROLLS[roll] for roll in grant.rolls)
    return f"a d20 of {grant.at_most} or less is rolled once more on {rolls}"


def _lowest(at: At, granted: Granted, grant: LowestD20) -> str:
    if not grant.saves:
        return ""
    return f"a d20 below {grant.at_least} counts as {grant.at_least} on {_on(at, 'save', grant.saves)}"


def _save_bonus(at: At, granted: Granted, grant: SaveBonus) -> str:
    if grant.against is None:
        return ""
    return f"{signed(at.value(granted, grant.amount))} on {_on(at, 'save', grant.saves)} against {grant.against}"


def _defense(at: At, granted: Granted, grant: Defense) -> str:
    to = "all damage" if "all" in grant.to else _words(at, grant.to, ("damage-type", "condition")).lower()
    return f"{_DEFENSES[grant.defense]} {to}{_limits(grant.limited)}"


def _critical_range(at: At, granted: Granted, grant: CriticalRange) -> str:
    return f"critical hits on {grant.from_}-20"


def _critical_dice(at: At, granted: Granted, grant: ExtraCriticalDice) -> str:
    dice = at.value(granted, grant.dice)
    return f"{dice} more weapon damage {'die' if dice == 1 else 'dice'} on a critical hit" if dice else ""


def _extra_damage(at: At, granted: Granted, grant: ExtraDamage) -> str:
    if counts_each_hit(granted, grant):
        return ""
    dice = at.value(granted, grant.dice)
    if not dice:
        return ""
    how = {
        "each-hit": "on each hit",
        "once-per-turn": "once a turn",
        "on-critical": "on a critical hit",
        "per-use": "per use",
    }[grant.how]
    pool = f" of {grant.pool.replace('-', ' ')}" if grant.pool and grant.how == "per-use" else ""
    slot = f"{grant.by_slot} more for each slot level above 1" if grant.by_slot else None
    most = f"{grant.most} at most" if grant.most else None
    kind = f" {_words(at, (grant.damage,), ('damage-type',)).lower()}" if grant.damage else ""
    return f"{dice}{kind} extra damage {how}{pool}{_limits(grant.limited, slot, most)}"


def _spell_damage(at: At, granted: Granted, grant: SpellDamage) -> str:
    amount = at.value(granted, grant.amount)
    each = "one damage roll of a casting" if grant.each == "casting" else "the damage of each hit"
    which = _words(at, grant.spells, ("spell",)) if grant.spells else ""
    schools = f"{', '.join(grant.schools)} spells" if grant.schools else ""
    types = f"{_words(at, grant.damage, ('damage-type',)).lower()} damage" if grant.damage else ""
    lists = f"{_words(at, grant.lists, ('class',)).lower()} spells" if grant.lists else ""
    only = "cantrips" if grant.cantrips else ""
    return f"{signed(amount)} to {each}{_limits(which, schools, types, lists, only)}"


def _note(at: At, granted: Granted, grant: Note) -> str:
    return grant.text


def _shape(at: At, granted: Granted, grant: ShapeLimit) -> str:
    hours = at.value(granted, grant.hours)
    without = f", without {' or '.join(grant.without)} speed" if grant.without else ""
    return f"beasts of challenge {grant.challenge} or less{without}, for {hours} hour{'s' if hours != 1 else ''}"


_Writer = Callable[[At, Granted, Any], str]
_WRITERS: Final[dict[str, _Writer]] = {
    "advantage": _advantage,
    "extra-die": _extra_die,
    "reroll-d20": _reroll,
    "lowest-d20": _lowest,
    "save-bonus": _save_bonus,
    "defense": _defense,
    "critical-range": _critical_range,
    "extra-critical-dice": _critical_dice,
    "extra-damage": _extra_damage,
    "spell-damage": _spell_damage,
    "note": _note,
    "shape-limit": _shape,
}
_OF_ATTACKS: Final = frozenset({"critical-range", "extra-critical-dice", "extra-damage", "spell-damage"})


def _of_armor(at: At) -> Iterator[SheetNote]:
    for thing in untrained(at):
        text = "not proficient: disadvantage on Strength and Dexterity checks, saves and attacks, and no spellcasting"
        yield SheetNote(thing.name, text, at.rule("armor-proficiency"))
    armor = at.outfit.armor
    body = armor.item.armor if armor is not None and armor.item is not None else None
    if armor is not None and body is not None and body.stealth_disadvantage:
        yield SheetNote(armor.name, "disadvantage on Stealth checks", at.plan.source("item", armor.pick.id))


def _of_weapons(at: At) -> Iterator[SheetNote]:
    """Heavy weapons are too big for the small (Equipment, Weapon Properties)."""
    sizes = [g.grant.size for g in at.holding("size") if isinstance(g.grant, Size)]
    if not sizes or sizes[-1] not in ("tiny", "small"):
        return
    for thing in at.outfit.weapons:
        if thing.item is not None and thing.item.weapon is not None and "heavy" in thing.item.weapon.properties:
            text = f"heavy: disadvantage on attacks of a {sizes[-1]} creature"
            yield SheetNote(thing.name, text, at.rule("weapon-properties"))


def _of_states(at: At) -> Iterator[SheetNote]:
    for id_ in at.gathered.states:
        state = at.catalog.state(id_)
        if state is None or state.needs is None:
            continue
        if id_ in at.gathered.idle or not (at.gathered.has(state.needs, at.level) or at.knows(state.needs)):
            text = f"not counted: the build has no {state.needs.replace('-', ' ')} at this level"
            kind = "state" if at.catalog.named("state", id_) else "condition"
            yield SheetNote(state.name, text, at.plan.source(kind, id_))


def _of_attunement(at: At) -> Iterator[SheetNote]:
    used = sum(1 for c in at.outfit.carried if c.item is not None and c.attuned)
    limit, source = attunement_limit(at)
    if used > limit:
        yield SheetNote("attunement", f"{used} items are marked attuned; {limit} is the most", source)
