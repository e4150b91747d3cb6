"""Equipment and magic items."""

from typing import Literal

from pydantic import Field

from engine.rules.base import Content, Dice, Id, Name
from engine.rules.content.entry import Featured

Property = Literal[
    "ammunition",
    "finesse",
    "heavy",
    "light",
    "loading",
    "reach",
    "special",
    "thrown",
    "two-handed",
    "versatile",
]


class Weapon(Content):
    """Weapon facts. die: damage dice of one hit, None for a net; versatile: die in two hands; ranges in feet."""

    group: Literal["simple", "martial"]
    reach: Literal["melee", "ranged"]
    die: Dice | Literal["1"] | None = None
    damage: Id | None = None
    properties: tuple[Property, ...] = ()
    versatile: Dice | None = None
    range: tuple[int, int] | None = None


class Armor(Content):
    """Armor facts. ac: base (a shield's bonus for a shield); dex_cap: highest Dexterity modifier, None for no limit.

    strength: score below which the wearer is slowed. metal: matters to druids (a matter of ruling).
    """

    group: Literal["light", "medium", "heavy", "shield"]
    ac: int = Field(ge=0, le=30)
    dex_cap: int | None = None
    strength: int | None = None
    stealth_disadvantage: bool = False
    metal: bool = False


class Magic(Content):
    """Magic facts.

    base: ids of the items it can be an enchantment of, empty for an item of its own. The catalogue makes one item of
    each, with the base's weapon or armor facts; the item's own id stands for the first of them. named: how those
    items are called, `{}` for the base (`Adamantine {}`); the item's name before the base's if absent.
    unburdened: armor of it needs no Strength and does not hinder Stealth.
    """

    rarity: Literal["common", "uncommon", "rare", "very-rare", "legendary", "artifact", "varies"]
    attunement: bool = False
    attunement_by: str | None = Field(default=None, max_length=80)
    kind: str = Field(max_length=40)
    base: tuple[Id, ...] = ()
    named: Name | None = None
    unburdened: bool = False


class Item(Featured):
    """A thing that is carried, worn or wielded.

    groups: what it belongs to for choices and proficiencies (`artisans-tools`, `musical-instrument`...).
    weight in pounds; cost in copper pieces; both for `bundle` pieces (20 arrows). contents: a pack's items.
    Its features hold while it is worn or held (and attuned, if it needs that).
    base: the mundane item it is an enchantment of, filled in by the catalogue.
    """

    category: Literal[
        "weapon",
        "armor",
        "ammunition",
        "gear",
        "tool",
        "pack",
        "mount",
        "vehicle",
        "tack",
        "trade-good",
        "service",
        "magic",
    ]
    groups: tuple[Id, ...] = ()
    weight: float | None = Field(default=None, ge=0)
    cost_cp: int | None = Field(default=None, ge=0)
    bundle: int = Field(default=1, ge=1)
    weapon: Weapon | None = None
    armor: Armor | None = None
    magic: Magic | None = None
    contents: tuple[str, ...] = ()
    speed: str | None = Field(default=None, max_length=40)
    capacity: str | None = Field(default=None, max_length=60)
    base: Id | None = None

    @property
    def plain_id(self) -> str:
        """Id of the mundane item it is or is made of: what proficiencies and `wields` speak of."""
        return self.base or self.id
