"""Spells, as facts."""

from typing import Annotated, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from engine.rules.base import Content, Id, Name, Remark
from engine.rules.content.entry import Entry
from engine.rules.words import Ability

School = Literal[
    "abjuration",
    "conjuration",
    "divination",
    "enchantment",
    "evocation",
    "illusion",
    "necromancy",
    "transmutation",
]


# `8d6`, `8d6+5`, `1d8+MOD`, `50`.
_TERM = r"(?:[1-9]|[1-3]\d|40)d(?:[1-9]\d?|100)|\d{1,4}"
Rolled = Annotated[str, StringConstraints(pattern=rf"^(?:{_TERM})(?: ?[+] ?(?:{_TERM}|MOD))?$")]


class SpellDamageDice(Content):
    """Damage dealt at the spell's own level: dice (`8d6`, `8d6+5`, `1d8+MOD` with the casting ability's modifier).

    type: by id; types: where the casting picks one of several. `note` sets a part apart that comes under its own
    condition ("end of its next turn", "each weapon hit"); parts without a note are dealt together.
    """

    dice: Rolled
    type: Id | None = None
    types: tuple[Id, ...] = ()
    note: Name | None = None


class Scaling(Content):
    """What changes with the slot or, for cantrips, the caster's level.

    by: `slot` or `character-level`. from_: first slot level (or level) of the change. every: slot levels per step.
    dice: what is added a step (`1d6`), or for cantrips the whole dice at that level. type: which damage grows, where
    there are several. count: how many more targets or darts a step, for cantrips how many beams in all; note: of what
    (`targets`, `darts`, `hit points affected`), or the change in our own short words. Without a note dice are damage,
    or healing where the spell heals.
    """

    by: Literal["slot", "character-level"]
    from_: int = Field(alias="from", ge=1, le=20)
    every: int = Field(default=1, ge=1, le=9)
    dice: Rolled | None = None
    type: Id | None = None
    count: int | None = Field(default=None, ge=1, le=100)
    note: Remark | None = None


class Area(Content):
    """Area of effect: shape and size in feet (side, length or radius; for `surface` square feet in all).

    height, width: further measures in feet. count: how many such pieces the spell makes.
    """

    shape: Literal["cone", "cube", "cylinder", "line", "sphere", "square", "wall", "hemisphere", "circle", "surface"]
    feet: int = Field(ge=1)
    height: int | None = None
    width: int | None = None
    count: int = 1


class Ends(Content):
    """How a spell takes creatures out by their hit points.

    pool: dice of hit points, spent from the lowest creature up (a `Scaling` with the note `hit points affected` adds
    to them); or limit: highest hit points that it works on. spares: creature types that it does nothing to;
    immune: conditions whose immunity saves from it, by id.
    """

    pool: Rolled | None = None
    limit: int | None = Field(default=None, ge=1, le=10_000)
    spares: tuple[Id, ...] = ()
    immune: tuple[Id, ...] = ()

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.pool is None) == (self.limit is None):
            raise ValueError("say either `pool` or `limit`")
        return self


class Spell(Entry):
    """A spell's facts; level 0 is a cantrip.

    classes: spell lists by class id. cost_gp: price of a costly material; consumed: whether casting uses it up.
    attack: kind of spell attack roll. save: ability; on_save: what a success leaves. damage, healing: at the spell's
    own level (cantrips: at character level 1). beams: separate attack rolls or darts at base. ends: which creatures
    it takes out by their hit points.
    """

    level: int = Field(ge=0, le=9)
    school: School
    ritual: bool = False
    casting_time: Name
    range: Name
    components: tuple[Literal["V", "S", "M"], ...] = ()
    cost_gp: int | None = Field(default=None, ge=0)
    consumed: bool = False
    duration: Name
    concentration: bool = False
    classes: tuple[Id, ...] = ()
    attack: Literal["melee", "ranged"] | None = None
    save: Ability | None = None
    on_save: Literal["half", "none", "other"] | None = None
    damage: tuple[SpellDamageDice, ...] = ()
    healing: Rolled | None = None
    ends: Ends | None = None
    beams: int = Field(default=1, ge=1, le=20)
    scaling: tuple[Scaling, ...] = ()
    area: Area | None = None
