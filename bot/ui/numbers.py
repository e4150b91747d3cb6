"""Names and values of numbers in words: `skill.stealth` is “Stealth”, its 9 is “+9”."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import Final

from bot.ui.escape import plain
from engine.audit import FoldedChange
from engine.build.document import Goal
from engine.rules.catalog import Catalog
from engine.rules.names import fold
from engine.rules.words import ABILITY_NAMES
from engine.sheet.number import Amount

ARROW: Final = "→"
_FIXED: Final = {
    "hp.max": "hit points",
    "ac": "armor class",
    "initiative": "initiative",
    "proficiency_bonus": "proficiency bonus",
    "level.character": "character level",
    "carry.capacity": "carrying capacity",
    "carry.weight": "weight carried",
    "carry.lift": "lift, push or drag",
    "jump.long": "long jump",
    "jump.long.standing": "standing long jump",
    "jump.high": "high jump",
    "jump.high.standing": "standing high jump",
    "breath.held": "minutes of breath",
    "breath.left": "rounds without breath",
    "rest.hit_dice": "hit dice back after a long rest",
    "experience.needed": "experience for the next level",
    "attunement.used": "items attuned",
    "attacks.per_action": "attacks per action",
    "pact.slots": "pact slots",
    "pact.slot_level": "pact slot level",
}
_CASTING: Final = {
    "save_dc": "spell save DC",
    "attack": "spell attack",
    "cantrips": "cantrips known",
    "known": "spells known",
    "prepared": "spells prepared",
    "spellbook": "spells in the book",
    "top_level": "highest spell level",
}
_SIGNED: Final = ("skill.", "save.", "check.", "tool.", "initiative", "ability.")
# Numbers that follow from others on the card, or that nobody argues about there; Details has them all.
_QUIET: Final = ("check.", "carry.", "hit_dice.", "level.", "attunement.")


def signed(value: Amount | None) -> str:
    """Return a bonus with its sign; what is no number as it is, nothing as “none”."""
    if value is None:
        return "none"
    return value if isinstance(value, str) else f"{value:+g}"


def value_words(name: str, value: Amount | None) -> str:
    """Return a number's value as a member reads it: bonuses signed, counts and scores not."""
    if value is None:
        return "none"
    if isinstance(value, str):
        return value
    bonus = name.startswith(_SIGNED) and not name.endswith((".lowest", ".passive", ".score"))
    if bonus or name.endswith((".to_hit", ".attack")):
        return f"{value:+g}"
    return f"{value:g}"


def name_words(name: str, catalog: Catalog) -> str:
    """Return what a number is called; names of content are escaped, since a folio may give any."""
    if name in _FIXED:
        return _FIXED[name]
    head, _, rest = name.partition(".")
    parts = rest.split(".")
    match head:
        case "ability":
            word = _ability(parts[0])
            return f"{word} {parts[1]}" if parts[1] == "modifier" else word
        case "check":
            return f"{_ability(rest)} check"
        case "save":
            return f"{rest.capitalize()} save"
        case "skill":
            return _with_kind(_content(catalog, ("skill",), parts[0]), parts[1:])
        case "tool":
            return _content(catalog, ("tool", "item"), rest)
        case "speed":
            return f"{rest} speed" if rest != "walk" else "speed"
        case "senses":
            return rest
        case "slots":
            return f"slots of level {rest}"
        case "hit_dice":
            return f"hit dice {rest}"
        case "level":
            return f"{_content(catalog, ('class',), rest)} level"
        case "casting":
            owner = _content(catalog, ("class", "species", "feat", "item"), parts[0])
            return f"{owner} {_CASTING.get(parts[-1], parts[-1])}"
        case "attack":
            weapon = _content(catalog, ("item", "spell"), parts[0])
            return " ".join([weapon, *(p.replace("_", " ") for p in parts[1:])])
        case "pool":
            return f"{_content(catalog, ('feature',), parts[0])} {parts[-1]}"
        case "dc":
            return f"{_content(catalog, ('feature',), rest)} DC"
        case _:
            return name


def number_named(text: str, names: Iterable[str], catalog: Catalog) -> str | None:
    """Return the number that a member means: its own name, or what it is called; None if no number is called so."""
    wanted = fold(text)
    every = list(names)
    if text in every:
        return text
    called = {fold(name_words(name, catalog)): name for name in reversed(every)}
    return called.get(wanted)


def _ability(short: str) -> str:
    return next((name for ability, name in ABILITY_NAMES.items() if ability == short), short)


def goal_words(goal: Goal, catalog: Catalog) -> str:
    """Return a goal as people say it: `passive Perception at least 20 at level 8`."""
    when = f"{goal.when} level {goal.level}"
    name = goal.name or ""
    match goal.form:
        case "compare":
            return f"{name_words(name, catalog)} at least {goal.value} {when}"
        case "knows":
            return f"knows {_content(catalog, ('spell',), name)} {when}"
        case "resists":
            return f"resists {_content(catalog, ('damage-type',), name)} {when}"
        case "proficient":
            return f"proficient in {_content(catalog, ('skill', 'tool', 'item', 'language'), name)} {when}"
        case "check":
            skill = _content(catalog, ("skill",), name)
            return f"{skill} check against DC {goal.dc} at least {goal.value} % {when}"
        case _:
            return plain(goal.text or "")


def _with_kind(skill: str, kind: list[str]) -> str:
    if kind == ["passive"]:
        return f"passive {skill}"
    return f"lowest {skill} total" if kind == ["lowest"] else skill


def _content(catalog: Catalog, kinds: tuple[str, ...], id_: str) -> str:
    for kind in kinds:
        if named := catalog.named(kind, id_):
            return plain(named.name)
    words = id_.replace("-", " ")
    return plain(words[:1].upper() + words[1:])


@dataclass(frozen=True, slots=True)
class ChangedNumbers:
    """Changed numbers as lines, for the better, for the worse, and neither: one line for each span of levels."""

    better: tuple[str, ...]
    worse: tuple[str, ...]
    neutral: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Change:
    """One number's changes over all levels: how it goes at the first level that differs, and at the last."""

    words: str
    span: tuple[int, int]
    moves: str
    side: str

    def __str__(self) -> str:
        return f"{self.words} {self.moves}"


def changed_numbers(folded: Iterable[FoldedChange], catalog: Catalog) -> ChangedNumbers:
    """Return the lines. To hit and damage of an attack stand together; what nobody argues about is left out."""
    rows: dict[str, list[FoldedChange]] = {}
    every = list(folded)
    names = {row.name for row in every}
    for row in every:
        if not is_quiet(row.name) or _alone(row.name, names):
            rows.setdefault(row.name, []).append(row)
    changes = _attacks_joined({name: _change(name, each, catalog) for name, each in rows.items()})
    lines: dict[str, list[str]] = {"better": [], "worse": [], "neutral": []}
    for side, found in lines.items():
        spans: dict[tuple[int, int], list[str]] = {}
        for change in changes:
            if change.side == side:
                spans.setdefault(change.span, []).append(str(change))
        for (first, last), phrases in sorted(spans.items()):
            where = f"level {first}" if first == last else f"levels {first} to {last}"
            found.append(f"{where}: {' · '.join(phrases)}")
    return ChangedNumbers(*(tuple(lines[side]) for side in ("better", "worse", "neutral")))


def is_quiet(name: str) -> bool:
    """Tell whether a number follows from others on a card, so that only Details have it."""
    if name.endswith(".passive"):
        return name != "skill.perception.passive"
    # Other grips of a weapon and bare hands follow from the weapon's own numbers and Strength.
    if name.startswith("attack.") and (name.count(".") > 2 or name.startswith("attack.unarmed-strike.")):
        return True
    return name.startswith(_QUIET) or name.endswith((".lowest", ".modifier", ".score"))


def _alone(name: str, changed: Collection[str]) -> bool:
    """Tell whether the lowest total or the passive score of a skill changes although the skill itself does not."""
    base, _, part = name.rpartition(".")
    return name.startswith("skill.") and part in ("lowest", "passive") and base not in changed


def _change(name: str, changes: list[FoldedChange], catalog: Catalog) -> _Change:
    directions = {c.direction for c in changes}
    first, last = _move(changes[0]), _move(changes[-1])
    return _Change(
        words=name_words(name, catalog),
        span=(changes[0].first, changes[-1].last),
        moves=first if first == last else f"{first} (later {last})",
        side=directions.pop() if len(directions) == 1 else "neutral",
    )


def _attacks_joined(changes: dict[str, _Change]) -> list[_Change]:
    found = []
    for name, change in changes.items():
        stem, _, part = name.rpartition(".")
        hit, damage = changes.get(f"{stem}.to_hit"), changes.get(f"{stem}.damage")
        if hit is None or damage is None or (hit.side, hit.span) != (damage.side, damage.span):
            found.append(change)
        elif part == "to_hit":
            found.append(replace(hit, moves=f"{hit.moves}, damage {damage.moves}"))
    return found


def _move(change: FoldedChange) -> str:
    return f"{value_words(change.name, change.before)} {ARROW} {value_words(change.name, change.after)}"
