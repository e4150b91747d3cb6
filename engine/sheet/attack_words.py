"""What is true of one attack: the words that conditions of attack grants may use (engine.rules.words)."""

from collections.abc import Callable
from typing import Any

from engine.rules.content import Item, Weapon
from engine.rules.words import ATTACK_WORDS
from engine.sheet.gathered import Carried, Outfit

# Group of items that are monk weapons although the rule of thumb below would leave them out.
MONK_GROUP = "monk-weapon"


def nothing() -> dict[str, Any]:
    """Return all attack words as false; `wields` is true of nothing."""
    return {**dict.fromkeys(ATTACK_WORDS, False), "wields": _wields(None)}


def _wields(item: Item | None) -> Callable[[str], bool]:
    if item is None:
        return lambda id_: False
    ids = (item.id, item.plain_id)
    return lambda id_: id_ in ids


def of_weapon(outfit: Outfit, thing: Carried, use: str) -> dict[str, Any]:
    """Return the words of an attack with a weapon.

    use: `` (as it is held in the first place), `two_handed`, `thrown` or `off_hand`. An attack in two hands leaves
    the shield out.
    """
    assert thing.item is not None
    weapon = thing.item.weapon
    assert weapon is not None
    properties = weapon.properties
    both = use == "two_handed" or "two-handed" in properties or (use == "" and in_both_hands(thing, weapon))
    words = nothing()
    words.update(
        weapon=True,
        melee=weapon.reach == "melee",
        ranged=weapon.reach == "ranged",
        thrown=use == "thrown" or (weapon.reach == "ranged" and "thrown" in properties),
        simple=weapon.group == "simple",
        martial=weapon.group == "martial",
        light="light" in properties,
        heavy="heavy" in properties,
        finesse="finesse" in properties,
        reach="reach" in properties,
        loading="loading" in properties,
        ammunition="ammunition" in properties,
        versatile="versatile" in properties,
        two_handed=both,
        one_handed=not both and weapon.reach == "melee",
        off_hand=use == "off_hand",
        main_hand=use != "off_hand",
        sole_weapon=use != "off_hand" and (outfit.off_hand is None or outfit.off_hand is thing),
        monk_weapon=monk_weapon(thing.item, weapon),
        magic=bool(thing.pick.bonus) or thing.item.magic is not None,
        wields=_wields(thing.item),
    )
    if both:
        words["shield"] = False
    return words


def in_both_hands(thing: Carried, weapon: Weapon) -> bool:
    """Tell whether a versatile weapon is marked `(two-handed)`."""
    return "two-handed" in thing.flags and "versatile" in weapon.properties


def monk_weapon(item: Item, weapon: Weapon) -> bool:
    """Tell whether a weapon is a monk weapon: a shortsword, or a simple melee weapon neither heavy nor two-handed.

    Source: SRD 5.1, Classes, Monk, Martial Arts. Which weapons are named beside the rule is content: the item group
    `monk-weapon`.
    """
    if MONK_GROUP in item.groups:
        return True
    heavy = {"two-handed", "heavy"}.intersection(weapon.properties)
    return weapon.group == "simple" and weapon.reach == "melee" and not heavy


def of_body(*, unarmed: bool, finesse: bool = False) -> dict[str, Any]:
    """Return the words of an attack with the body: an unarmed strike, or a weapon that the body has by nature."""
    words = nothing()
    words.update(
        unarmed=unarmed,
        weapon=not unarmed,
        melee=True,
        main_hand=True,
        sole_weapon=True,
        finesse=finesse,
        proficient=True,
    )
    return words


def of_cantrip(attack: str) -> dict[str, Any]:
    """Return the words of a cantrip's attack; attack: `melee` or `ranged`."""
    words = nothing()
    words.update(
        spell=True, cantrip=True, magic=True, main_hand=True, melee=attack == "melee", ranged=attack == "ranged"
    )
    return words
