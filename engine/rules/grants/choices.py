"""What is left to choose: how many, of what, when, and whether it may be swapped later."""

from typing import Literal

from pydantic import Field

from engine.rules.base import Id
from engine.rules.formula import Formula
from engine.rules.grants.base import GrantBase
from engine.rules.words import Ability


class Choice(GrantBase):
    """Pick some of a list; answered in the outline under `keyword`.

    keyword: `skill`, `expertise`, `language`, `tool`, `cantrip`, `spell`, `secret`, `feat`, `increase`, `subspecies`,
        `ability`, or the keyword of a choice list (`style`, `invocation`...).
    count: new picks at this level of the owner. total: picks in all by each level (a column); give one of the two.
    from_: ids that may be picked (for tools also groups such as `artisans-tools`); empty: everything of that kind.
        For `expertise`, empty means any skill with proficiency, and tools named in `from` besides.
    but: ids that may not. list: spell list by class id (for spells and cantrips); None: any list.
    spell_level: highest level of a spell that may be picked, lowest with `least`.
    amount: for `increase`: points to place in one score; `split` allows spreading them over two. `or_feat`: a feat
        may be taken instead, where the table allows feats.
    swaps: picks that may be exchanged at each later level of the owner.
    counts_as_known: for spells: fills a place among the class's spells known (`True`) or comes on top.
    of: what is picked, where the keyword is one of the content's own and no choice list has it (`mastered`).
    held: only spells that the build already has from this class (in the book, or known) may be picked.
    always_prepared: spells picked here are always prepared and count against no number of prepared spells.
    ability: casting ability of spells chosen here, where no class gives it.
    casting: as in ExtraSpells.
    stands_for: options of another list that answer this choice too, for what people write as the same thing: pairs
        of their id and the option meant here (`dragon Red` of a dragonborn is not the sorcerer's).
    """

    kind: Literal["choice"] = "choice"
    keyword: Id
    count: Formula | None = None
    total: Formula | None = None
    from_: tuple[Id, ...] = Field(default=(), alias="from")
    but: tuple[Id, ...] = ()
    list: Id | None = None
    spell_level: Formula | None = None
    least: int = Field(default=0, ge=0, le=9)
    amount: int = Field(default=1, ge=1, le=4)
    split: bool = False
    or_feat: bool = False
    cap: int = Field(default=20, ge=1, le=30)
    swaps: int = Field(default=0, ge=0, le=20)
    counts_as_known: bool = False
    of: Literal["spell"] | None = None
    held: bool = False
    always_prepared: bool = False
    ability: Ability | None = None
    casting: Id | None = None
    stands_for: tuple[tuple[Id, Id], ...] = ()


class Note(GrantBase):
    """A fact without a number that belongs on the sheet, in our own short words."""

    kind: Literal["note"] = "note"
    text: str = Field(min_length=1, max_length=200)


class Ruling(GrantBase):
    """Something the release leaves to the table: while `when` holds, the audit asks for a ruling with this sentence."""

    kind: Literal["ruling"] = "ruling"
    text: str = Field(min_length=1, max_length=200)


class ShapeLimit(GrantBase):
    """The beasts whose shape can be taken. Shown as a note.

    challenge: highest challenge rating as printed (`1/4`). without: kinds of speed the beast may not have.
    hours: how long the shape can be kept.
    """

    kind: Literal["shape-limit"] = "shape-limit"
    challenge: str = Field(pattern=r"^(0|1/8|1/4|1/2|[1-9]\d?)$")
    without: tuple[Literal["swim", "climb", "fly", "burrow"], ...] = ()
    hours: Formula
