"""The build: one immutable document that says what was chosen, never what follows from it.

Ids are content ids; names stand in the outline only. Defaults are left out of the stored form, there are no floats,
and `schema` says by which models it was written. A document may be incomplete or illegal: that is the audit's to say.
"""

import hashlib
import re
from collections.abc import Iterator
from typing import Annotated, Any, Final, Literal, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SerializerFunctionWrapHandler,
    StringConstraints,
    field_validator,
    model_serializer,
    model_validator,
)

from engine.build.plain import plain
from engine.rules.words import ABILITIES, Ability

SCHEMA: Final = 1
MAX_TEXT: Final = 2000
MAX_NAME: Final = 60
MAX_ID: Final = 80
DEEPEST: Final = 3  # how deep parentheses nest in the outline


def _plain(value: object) -> object:
    return plain(value) if isinstance(value, str) else value


# Documents keep plain characters, as the outline reads them, so that what is printed parses back to the same document.
# Texts are made plain before their length is measured.
Plain = BeforeValidator(_plain)
Text = Annotated[str, StringConstraints(min_length=1, max_length=MAX_TEXT), Plain]
BuildName = Annotated[str, StringConstraints(min_length=1, max_length=MAX_NAME), Plain]
ContentId = Annotated[str, StringConstraints(min_length=1, max_length=MAX_ID), Plain]
# How the names of numbers look: `skill.perception.passive`.
NUMBER_NAME: Final = re.compile(r"[a-z][a-z0-9_-]*(?:[./][a-z0-9_-]+)*")
ScoreMethod = Literal["standard-array", "point-buy", "rolled", "manual", "final"]
FlagWord = Literal["custom", "carried", "attuned", "two-handed", "off-hand"]


class Doc(BaseModel):
    """One frozen part of a build document.

    A whole document is validated down to its last part, also parts that are models already: the outline constructs them
    without validation, which would build one validator for every kind of part at each start.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True, revalidate_instances="always")


class Kinded(Doc):
    """A document part told from its siblings by `kind`, which is stored although it never differs from its default."""

    @model_serializer(mode="wrap")
    def _with_kind(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        return {"kind": type(self).model_fields["kind"].default, **handler(self)}


class Pick(Doc):
    """One thing picked: content id, how many of it, its magic bonus, and what was chosen inside its parentheses.

    id may be free text only where the outline allows a name of one's own.
    """

    id: ContentId
    count: int = Field(default=1, ge=1, le=9999)
    bonus: int = Field(default=0, ge=0, le=9)
    items: tuple["Item", ...] = ()


class Choose(Kinded):
    """`KEYWORD [(CLASS)] choices`: picks under one keyword.

    keyword: singular, kebab-case (`skill`, `expertise`, `language`, `tool`, `cantrip`, `spell`, `copied`, `secret`,
    `prepare`, `feat`, `feature`, `ability`, `kind`, `mastery`, and those of choice lists). of: class id, if named.
    """

    kind: Literal["choose"] = "choose"
    keyword: ContentId
    of: ContentId | None = None
    picks: tuple[Pick, ...] = Field(min_length=1)


class Increase(Kinded):
    """`+N ABILITY`."""

    kind: Literal["increase"] = "increase"
    ability: Ability
    amount: int = Field(ge=1, le=10)


class Swap(Kinded):
    """`swap A for B`; keyword is always resolved (`spell`, `invocation`...)."""

    kind: Literal["swap"] = "swap"
    keyword: ContentId
    old: Pick
    new: Pick


class Flag(Kinded):
    """A word that stands alone."""

    kind: Literal["flag"] = "flag"
    flag: FlagWord


class NoteItem(Kinded):
    """`note text`."""

    kind: Literal["note"] = "note"
    text: Text


class Gain(Kinded):
    """`gain choices`: gear that comes at that level."""

    kind: Literal["gain"] = "gain"
    picks: tuple[Pick, ...] = Field(min_length=1)


class Lose(Kinded):
    """`lose choices`: gear that goes at that level."""

    kind: Literal["lose"] = "lose"
    picks: tuple[Pick, ...] = Field(min_length=1)


class Granted(Kinded):
    """`granted "why" item`: a gift of the GM; item is no gift itself."""

    kind: Literal["granted"] = "granted"
    text: Text
    item: "Item"

    @model_validator(mode="after")
    def _one_gift(self) -> Self:
        if isinstance(self.item, Granted):
            raise ValueError("a gift cannot hold another gift")
        return self


def _check_depth(items: "tuple[Item, ...]", depth: int) -> None:
    for item in items:
        _check_picks(picks_of(item), depth)


def _check_picks(picks: tuple[Pick, ...], depth: int) -> None:
    for pick in picks:
        if pick.items:
            if depth >= DEEPEST:
                raise ValueError(f"choices inside choices go {DEEPEST} deep at most")
            _check_depth(pick.items, depth + 1)


def picks_of(item: "Item") -> tuple[Pick, ...]:
    """Return the picks that stand directly in an item, in order; a gift's are those of the thing given."""
    if isinstance(item, Choose | Gain | Lose):
        return item.picks
    if isinstance(item, Swap):
        return (item.old, item.new)
    if isinstance(item, Granted):
        return picks_of(item.item)
    return ()


Item = Annotated[Choose | Increase | Swap | Flag | NoteItem | Gain | Lose | Granted, Field(discriminator="kind")]


class Line(Doc):
    """What one level line says beyond its class. roll: number of a witnessed hit-point roll, only with hp."""

    subclass: ContentId | None = None
    hp: int | None = Field(default=None, ge=1, le=20)
    roll: int | None = Field(default=None, ge=1)
    items: tuple[Item, ...] = ()

    @model_validator(mode="after")
    def _fits_the_outline(self) -> Self:
        if self.roll is not None and self.hp is None:
            raise ValueError("a witnessed hit-point roll needs the hit points it gave")
        _check_depth(self.items, 0)
        return self

    @property
    def empty(self) -> bool:
        """Whether the line says nothing beyond its class; such lines are not stored."""
        return self.subclass is None and self.hp is None and self.roll is None and not self.items


class Scores(Doc):
    """Ability scores before any increase (method `final`: including every increase); all six are given.

    roll: number of the witnessed roll they come from, only with method `rolled`.
    """

    values: dict[Ability, Annotated[int, Field(ge=1, le=30)]]
    method: ScoreMethod = "manual"
    roll: int | None = Field(default=None, ge=1)

    @model_validator(mode="after")
    def _all_six(self) -> Self:
        missing = [a for a in ABILITIES if a not in self.values]
        if missing:
            raise ValueError(f"all six scores are needed; missing: {', '.join(missing)}")
        if self.roll is not None and self.method != "rolled":
            raise ValueError("a witnessed roll goes only with rolled scores")
        return self


class Origin(Doc):
    """Species or background: a content id, or for a background of one's own its name, and what was chosen.

    `custom` backgrounds have a name and no id; the flag is not repeated among the items.
    """

    id: ContentId | None = None
    name: BuildName | None = None
    items: tuple[Item, ...] = ()

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if (self.id is None) == (self.name is None):
            raise ValueError("an origin has an id, or, of one's own, a name")
        if self.id is not None and self.items and self.items[0] == Flag(flag="custom"):
            raise ValueError("a background that begins with `custom` has a name of one's own, not an id")
        _check_depth(self.items, 1)
        return self


class FolioUse(Doc):
    """A folio that the build uses beside its rules release: id, version and hash it was made with."""

    id: ContentId
    version: Annotated[str, StringConstraints(max_length=MAX_ID), Plain] = ""
    hash: Annotated[str, StringConstraints(max_length=MAX_ID), Plain] = ""


class Preparation(Doc):
    """`Prepared: (CLASS) A, B`: the prepared list at the last level; class None where the build has one caster."""

    of: ContentId | None = None
    picks: tuple[Pick, ...] = Field(min_length=1)


GoalForm = Literal["compare", "knows", "resists", "proficient", "check", "text"]


class Goal(Doc):
    """A goal of the build.

    form: `compare` (name >= value), `knows`, `resists`, `proficient`, `check` (skill, dc, percent as value), or `text`.
    name: number name, spell id, damage type id, proficiency id or skill id. when: `at` for checks, `at` or `by` for
    comparisons, else `by`; level 1 to 20. A free text has neither name nor level.
    """

    form: GoalForm
    name: Annotated[str, StringConstraints(min_length=1, max_length=120), Plain] | None = None
    value: int | None = None
    dc: int | None = Field(default=None, ge=1, le=99)
    when: Literal["at", "by"] = "by"
    level: int = Field(default=20, ge=1, le=20)
    text: Text | None = None

    @model_validator(mode="after")
    def _says_what_its_form_says(self) -> Self:
        needs = {
            "name": self.form != "text",
            "value": self.form in ("compare", "check"),
            "dc": self.form == "check",
            "text": self.form == "text",
        }
        for field, needed in needs.items():
            if (getattr(self, field) is not None) != needed:
                raise ValueError(f"a goal of the form `{self.form}` {'needs' if needed else 'has no'} `{field}`")
        if self.form == "compare" and not NUMBER_NAME.fullmatch(self.name or ""):
            raise ValueError(f"`{self.name}` is no name of a number, such as `skill.perception.passive`")
        if self.form == "check" and not 0 <= (self.value or 0) <= 100:
            raise ValueError("a chance lies between 0 % and 100 %")
        if self.form != "compare" and self.when != ("at" if self.form == "check" else "by"):
            raise ValueError(f"a goal of the form `{self.form}` is not said with `{self.when}`")
        if self.form == "text" and self.level != 20:
            raise ValueError("a goal in free words has no level")
        return self


class Build(Doc):
    """A whole build. order: class id of each character level; levels: class id -> nth level of that class -> line."""

    schema_: int = Field(default=SCHEMA, alias="schema")
    name: BuildName
    concept: Annotated[str, StringConstraints(max_length=MAX_TEXT)] | None = None
    rules: ContentId = "srd-5.1"
    folios: tuple[FolioUse, ...] = ()
    scores: Scores | None = None
    species: Origin | None = None
    background: Origin | None = None
    order: tuple[ContentId, ...] = Field(default=(), max_length=20)
    levels: dict[ContentId, dict[int, Line]] = Field(default_factory=dict)
    gear: tuple[Pick, ...] = ()
    prepared: tuple[Preparation, ...] = ()
    goals: tuple[Goal, ...] = ()
    notes: tuple[Text, ...] = ()

    model_config = ConfigDict(populate_by_name=True)

    @field_validator("concept", mode="before")
    @classmethod
    def _no_empty_concept(cls, value: object) -> object:
        return (plain(value) or None) if isinstance(value, str) else value

    @field_validator("levels", mode="after")
    @classmethod
    def _no_empty_classes(cls, value: dict[str, dict[int, Line]]) -> dict[str, dict[int, Line]]:
        return {class_id: lines for class_id, lines in value.items() if lines}

    @model_validator(mode="after")
    def _lines_have_levels(self) -> Self:
        for class_id, lines in self.levels.items():
            held = self.order.count(class_id)
            for nth, line in lines.items():
                if not 1 <= nth <= held:
                    raise ValueError(f"a line for {class_id} {nth}, but the build has {held} levels of {class_id}")
                if line.empty:
                    raise ValueError(f"the empty line {class_id} {nth} must be left out")
        if self.order and self.levels.get(self.order[0], {}).get(1, EMPTY_LINE).hp is not None:
            raise ValueError("no hit points are rolled at level 1; it takes the whole die")
        if self.species is not None and self.species.id is None:
            raise ValueError("a species of one's own comes in a folio; only a background may have just a name")
        _check_picks(self.gear, 0)
        for preparation in self.prepared:
            _check_picks(preparation.picks, 0)
        return self

    @property
    def top(self) -> int:
        """The character level of the last level line; 0 for a build without levels."""
        return len(self.order)

    def lines(self) -> Iterator[tuple[int, str, int, Line]]:
        """Yield (character level, class id, nth level of that class, line) from level 1 on."""
        seen: dict[str, int] = {}
        for level, class_id in enumerate(self.order, start=1):
            nth = seen[class_id] = seen.get(class_id, 0) + 1
            yield level, class_id, nth, self.levels.get(class_id, {}).get(nth, EMPTY_LINE)

    def class_levels(self, level: int) -> dict[str, int]:
        """Return levels per class at a character level, in the order the classes were taken."""
        held: dict[str, int] = {}
        for class_id in self.order[:level]:
            held[class_id] = held.get(class_id, 0) + 1
        return held


# Constructed without validation: building the validator here would slow down every start.
EMPTY_LINE: Final = Line.model_construct()


def dump(build: Build) -> dict[str, Any]:
    """Return the stored form: plain JSON data, defaults left out, `schema` always there, no floats."""
    data: dict[str, Any] = build.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return {"schema": SCHEMA, **data}


def canonical(build: Build) -> bytes:
    """Return the canonical JSON of the stored form (RFC 8785)."""
    import rfc8785

    return rfc8785.dumps(dump(build))


def build_hash(build: Build) -> str:
    """Return the SHA-256 of the canonical JSON, 64 hexadecimal digits: the identity of a revision."""
    return hashlib.sha256(canonical(build)).hexdigest()
