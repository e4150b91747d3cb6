"""Hit points, armor class, speed, senses, what harms less, how much is carried."""

from typing import Literal, Self

from pydantic import Field, model_validator

from engine.rules.base import Id, Name
from engine.rules.formula import Formula
from engine.rules.grants.base import GrantBase
from engine.rules.words import Ability


class HitPoints(GrantBase):
    """More hit points. amount: points; times: once, or for each level of the owner (`level` counts as the first)."""

    kind: Literal["hit-points"] = "hit-points"
    amount: Formula
    times: Literal["once", "each-level"] = "once"


class HitPointsHalved(GrantBase):
    """The hit point maximum, everything counted, is halved, rounded down."""

    kind: Literal["hit-points-halved"] = "hit-points-halved"


class ArmorFormula(GrantBase):
    """A way to work out armor class without armor: base + modifiers.

    family: of grants with one family only the first gained holds (a second Unarmored Defense is not gained).
    shield: whether a shield may be added. Use `when: no_armor` (or a looser condition) as printed.
    """

    kind: Literal["armor-formula"] = "armor-formula"
    base: int = Field(ge=0, le=30)
    add: tuple[Ability, ...] = ()
    shield: bool = True
    family: Id | None = None


class ArmorBonus(GrantBase):
    """A flat bonus to armor class."""

    kind: Literal["armor-bonus"] = "armor-bonus"
    amount: Formula


class ArmorFloor(GrantBase):
    """An armor class that cannot be lower than this number."""

    kind: Literal["armor-floor"] = "armor-floor"
    least: int = Field(ge=1, le=30)


class Speed(GrantBase):
    """A speed in feet.

    how: `set` a base (the highest counts), `add` to it, or `equals-walk` for a second kind. Then, in this order,
    `double`, `halve` (rounded down) and `zero` change the whole speed; with `mode: walk` they change every kind.
    """

    kind: Literal["speed"] = "speed"
    mode: Literal["walk", "swim", "climb", "fly", "burrow"] = "walk"
    how: Literal["set", "add", "equals-walk", "double", "halve", "zero"] = "set"
    amount: Formula | None = None


class SpeedUnburdened(GrantBase):
    """Heavy armor without the Strength for it does not slow this one down."""

    kind: Literal["speed-unburdened"] = "speed-unburdened"


class Sense(GrantBase):
    """A sense with its range in feet; of several ranges the highest counts, `extends` adds to what is there.

    `blindsense` is the rogue's: it tells where the hidden and invisible are, by hearing.
    """

    kind: Literal["sense"] = "sense"
    sense: Literal["darkvision", "blindsight", "tremorsense", "truesight", "blindsense"]
    feet: Formula
    extends: bool = False


class Defense(GrantBase):
    """Resistance, immunity or vulnerability to damage types, or immunity to conditions. Shown as a note.

    to: damage types or conditions by id. limited: limit in our own short words.
    """

    kind: Literal["defense"] = "defense"
    defense: Literal["resistance", "immunity", "vulnerability", "condition-immunity"]
    to: tuple[Id, ...] = Field(min_length=1)
    limited: Name | None = None


class Carrying(GrantBase):
    """Carrying capacity counts this many times as high."""

    kind: Literal["carrying"] = "carrying"
    times: int = Field(ge=1, le=8)


class Jump(GrantBase):
    """Longer jumps. Either feet, which are added to a jump with a running start, or times, which every jump counts.

    jump: `long` for long jumps alone, `both` for long and high ones.
    """

    kind: Literal["jump"] = "jump"
    jump: Literal["long", "both"] = "both"
    feet: Formula | None = None
    times: int | None = Field(default=None, ge=2, le=8)

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if (self.feet is None) == (self.times is None):
            raise ValueError("give either feet or times")
        return self


class Size(GrantBase):
    """The creature's size, where it bears on numbers."""

    kind: Literal["size"] = "size"
    size: Literal["tiny", "small", "medium", "large", "huge", "gargantuan"]


class SaveDc(GrantBase):
    """A save DC of a feature that is no spellcasting: 8 + proficiency bonus + modifier, named `dc.ID`."""

    kind: Literal["save-dc"] = "save-dc"
    id: Id
    ability: Ability
    base: int = Field(default=8, ge=0, le=20)


class Attunement(GrantBase):
    """How many magic items can be attuned at once instead of the release's number."""

    kind: Literal["attunement"] = "attunement"
    items: int = Field(ge=0, le=12)
