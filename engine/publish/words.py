"""Numbers in words for what is published: `skill.stealth` is “Stealth”, its 9 is “+9”. Plain text, nothing escaped."""

from __future__ import annotations

from typing import Final

from engine.audit.context import AuditContext
from engine.audit.unfinished import unfinished
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITY_NAMES
from engine.sheet.number import Amount

FIXED: Final = {
    "hp.max": "hit points",
    "ac": "armor class",
    "initiative": "initiative",
    "proficiency_bonus": "proficiency bonus",
    "level.character": "character level",
    "carry.capacity": "carrying capacity",
    "carry.weight": "weight carried",
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
# What is still to choose of a build: no more of it is named.
_SOME: Final = 3
_SIGNED: Final = ("skill.", "save.", "check.", "tool.", "initiative", "ability.", "proficiency_bonus")
ORDINALS: Final = ("1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th", "9th")


def is_bonus(name: str) -> bool:
    """Tell whether a number is a bonus, which is written with its sign."""
    if name.endswith((".lowest", ".passive", ".score")):
        return False
    return name.startswith(_SIGNED) or name.endswith(".to_hit") or (name.startswith("casting.") and ".attack" in name)


def shown(name: str, value: Amount | None) -> str:
    """Return a number's value as people write it: bonuses signed, counts and scores not, `-` for none."""
    if value is None:
        return "-"
    if isinstance(value, str):
        return value
    return f"{value:+g}" if is_bonus(name) else f"{value:g}"


def called(name: str, catalog: Catalog) -> str:
    """Return what a number is called; its own name where no words are known for it."""
    if name in FIXED:
        return FIXED[name]
    head, _, rest = name.partition(".")
    parts = rest.split(".")
    match head:
        case "ability":
            word = ability(parts[0])
            return f"{word} modifier" if parts[-1] == "modifier" else word
        case "check":
            return f"{ability(rest)} check"
        case "save":
            return f"{ability(rest)} save"
        case "skill":
            skill = content(catalog, ("skill",), parts[0])
            kind = parts[-1] if len(parts) > 1 else ""
            return {"passive": f"passive {skill}", "lowest": f"lowest {skill} total"}.get(kind, skill)
        case "tool":
            return content(catalog, ("tool", "item"), rest)
        case "speed":
            return "speed" if rest == "walk" else f"{rest} speed"
        case "senses":
            return rest
        case "slots":
            return f"{ORDINALS[int(rest) - 1]}-level slots"
        case "hit_dice":
            return f"hit dice {rest}"
        case "level":
            return f"{content(catalog, ('class',), rest)} level"
        case "casting":
            owner = content(catalog, ("class", "species", "feat", "item"), parts[0])
            return f"{owner} {_CASTING.get(parts[-1], parts[-1])}"
        case "attack":
            weapon = content(catalog, ("item", "spell"), parts[0])
            return " ".join([weapon, *(part.replace("_", " ") for part in parts[1:])])
        case "pool":
            return f"{content(catalog, ('feature',), parts[0])} {parts[-1]}"
        case "dc":
            return f"{content(catalog, ('feature',), rest)} DC"
        case _:
            return name


def ability(id_: str) -> str:
    """Return an ability's full name."""
    names: dict[str, str] = {str(key): name for key, name in ABILITY_NAMES.items()}
    return names.get(id_, id_)


def content(catalog: Catalog, kinds: tuple[str, ...], id_: str) -> str:
    """Return the printed name of an id of one of some kinds, or the id as words."""
    for kind in kinds:
        if named := catalog.named(kind, id_):
            return named.name
    words = id_.replace("-", " ")
    return words[:1].upper() + words[1:]


def still_open(ctx: AuditContext, level: int) -> str:
    """Return the words that mark what is made of an unfinished build as partial; empty for a finished one."""
    left = unfinished(ctx, level)
    if not left:
        return ""
    more = [f"{len(left) - _SOME} more"] if len(left) > _SOME else []
    return f"the build is not finished and counts as it stands; still to choose: {listed([*left[:_SOME], *more])}"


def capital(text: str) -> str:
    """Return a text with a capital letter at its beginning."""
    return text[:1].upper() + text[1:]


def listed(words: list[str], last: str = "and") -> str:
    """Return `a, b and c`."""
    *most, end = words
    return f"{', '.join(most)} {last} {end}" if most else end
