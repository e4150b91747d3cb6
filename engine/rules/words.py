"""The fixed words of the trade: abilities, and what a folio's formulas may speak of."""

from typing import Final, Literal, get_args

Ability = Literal["str", "dex", "con", "int", "wis", "cha"]
ABILITIES: Final[tuple[Ability, ...]] = get_args(Ability)
ABILITY_NAMES: Final[dict[Ability, str]] = {
    "str": "Strength",
    "dex": "Dexterity",
    "con": "Constitution",
    "int": "Intelligence",
    "wis": "Wisdom",
    "cha": "Charisma",
}

# Ability modifiers, ability scores, and what the level gives.
NUMBER_WORDS: Final[frozenset[str]] = frozenset(
    {*ABILITIES, *(f"{a}_score" for a in ABILITIES)} | {"proficiency_bonus", "character_level", "class_level"}
)
# What is worn at that level; true or false.
WORN_WORDS: Final[frozenset[str]] = frozenset(
    {"no_armor", "light_armor", "medium_armor", "heavy_armor", "metal_armor", "shield"}
)
# What is true of one attack; false outside attacks. `sole_weapon`: no weapon in the other hand.
# `melee` and `ranged` say what the weapon (or the spell's attack) is, `thrown` that this attack throws the weapon, so a
# thrown handaxe is `melee and thrown` and no ranged weapon. `weapon` is false of an unarmed strike, which is `melee`.
# `two_handed`: held in both hands for this attack; `one_handed`: a melee weapon held in one.
# `by_strength`: the attack uses Strength. `main_hand` is every attack that is not `off_hand`.
ATTACK_WORDS: Final[frozenset[str]] = frozenset(
    {
        "weapon", "unarmed", "spell", "cantrip", "melee", "ranged", "thrown", "simple", "martial", "light", "heavy",
        "finesse", "reach", "loading", "ammunition", "versatile", "two_handed", "one_handed", "off_hand", "main_hand",
        "sole_weapon", "monk_weapon", "by_strength", "magic", "proficient",
    }
)  # fmt: skip
# Functions: name -> (fewest, most) arguments.
FUNCTIONS: Final[dict[str, tuple[int, int]]] = {
    "min": (2, 8),
    "max": (2, 8),
    "half_down": (1, 1),
    "half_up": (1, 1),
    "third_down": (1, 1),
    "div_down": (2, 2),  # rounded down; 0 for a divisor of 0
    "column": (1, 1),  # the cell of the owner class's table at its level
    "dice": (2, 2),  # dice(3, 6) is 3d6
    "level_of": (1, 1),  # level_of('rogue'): levels in a class by id, 0 if none
    "state": (1, 1),  # state('rage'): is it switched on
    "has": (1, 1),  # has('pact-of-the-blade'): a feature or chosen option by id
    "knows": (1, 1),  # knows('eldritch-blast'): a spell or cantrip learned
    "wields": (1, 1),  # wields('club'): the attack's weapon is this one or an enchantment of it; false outside attacks
    "when": (3, 3),  # when(condition, then, otherwise)
}
UNLIMITED: Final = "unlimited"
SizeName = Literal["tiny", "small", "medium", "large", "huge", "gargantuan"]

# Keywords of choices that no choice list gives, and the kinds of content that are picked under them.
PICK_KEYWORDS: Final[dict[str, tuple[str, ...]]] = {
    "skill": ("skill",),
    "expertise": ("skill", "tool"),
    "language": ("language", "language-group"),
    "tool": ("tool", "item-group"),
    "cantrip": ("spell",),
    "spell": ("spell",),
    "secret": ("spell",),
    "feat": ("feat",),
    "feature": ("feature",),
    "increase": ("ability",),
    "ability": ("ability",),
    "kind": ("humanoid-kind",),
    "mastery": ("item",),
}
# Words that open something else in an outline, so no choice list can have them as its keyword.
RESERVED_KEYWORDS: Final[frozenset[str]] = frozenset(PICK_KEYWORDS) | {
    "attuned", "carried", "copied", "custom", "gain", "granted", "hp", "lose", "note", "off-hand", "prepare",
    "subspecies", "swap", "tool-or-language", "two-handed",
}  # fmt: skip
