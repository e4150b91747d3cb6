"""The rules of one table, as its game master writes them in YAML. All of it is ours; no release prints such a form.

    rules: srd-5.1                     # or a list
    folios: [tidewater]                # folios that may be used besides; [] for none
    levels: 1-12                       # starting and highest level
    scores: [standard array, point buy]
    points: 27                         # points to spend in point buy, instead of the release's
    hit_points: fixed                  # fixed, rolled (and witnessed), maximum; or a list
    multiclassing: no
    feats: yes
    extra_feats: [1, 8]                # levels at which everybody gains a feat
    bar: [Grappler, spells]            # one by one by name, or a whole kind
    allow: [Fireball]                  # stays in use in spite of `bar`, `feats: no` and `magic_items`
    magic_items: 2                     # yes, no, how many at most, or {most: 2, rarity: uncommon}
    gold: 150                          # what the gear of level 1 may cost, in gold pieces
    encumbrance: variant               # the release's variant rule; `standard` if absent

A key that is left out restricts nothing.
"""

import re
from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal, get_args

import yaml
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from engine.build.document import ScoreMethod
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.names import fold, nearest

MAX_BYTES: Final = 64 * 1024
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
HitPointMethod = Literal["fixed", "rolled", "maximum"]
Rarity = Literal["common", "uncommon", "rare", "very-rare", "legendary", "artifact"]
RARITIES: Final[tuple[Rarity, ...]] = get_args(Rarity)
# Words of `bar` that stand for everything of a kind -> kind of the catalogue.
KIND_WORDS: Final[dict[str, str]] = {
    "classes": "class",
    "subclasses": "subclass",
    "species": "species",
    "races": "species",
    "backgrounds": "background",
    "feats": "feat",
    "spells": "spell",
    "items": "item",
}
_NAMED_KINDS: Final = ("class", "subclass", "species", "background", "feat", "spell", "item", "feature", "language")
_KIND_BY_FOLD: Final = {fold(word): kind for word, kind in KIND_WORDS.items()}


def _listed(value: Any) -> Any:
    if isinstance(value, str | int) and not isinstance(value, bool):
        return (value,)
    return tuple(value) if isinstance(value, list) else value


def _hyphen(value: Any) -> Any:
    return re.sub(r"[\s_]+", "-", value.strip().casefold()) if isinstance(value, str) else value


def _hyphened(value: Any) -> Any:
    listed = _listed(value)
    return tuple(map(_hyphen, listed)) if isinstance(listed, tuple) else value


def _span(value: Any) -> Any:
    if isinstance(value, int) and not isinstance(value, bool):
        return {"highest": value}
    if isinstance(value, str) and (match := re.fullmatch(r"\s*(\d{1,2})\s*(?:-|–|to)\s*(\d{1,2})\s*", value)):
        return {"start": int(match[1]), "highest": int(match[2])}
    return value


def _magic(value: Any) -> Any:
    if isinstance(value, bool):
        return {} if value else {"most": 0}
    return {"most": value} if isinstance(value, int) else value


def _feat_levels(value: Any) -> Any:
    if isinstance(value, dict):
        return tuple(level for level, count in value.items() for _ in range(min(count, 5) if type(count) is int else 1))
    return _listed(value)


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class LevelSpan(_Part):
    """Levels that are played: those a build may start at and reach, both from 1 to 20."""

    start: int = Field(default=1, ge=1, le=20)
    highest: int = Field(default=20, ge=1, le=20)

    @model_validator(mode="after")
    def _in_order(self) -> "LevelSpan":
        if self.start > self.highest:
            raise ValueError(f"the starting level {self.start} lies above the highest level {self.highest}")
        return self


class MagicItemRule(_Part):
    """How many magic items a build may hold at once and how rare they may be; None restricts nothing."""

    most: int | None = Field(default=None, ge=0, le=99)
    rarity: Annotated[Rarity | None, BeforeValidator(_hyphen)] = None


# What each key takes, for the sentence that refuses anything else.
_EXPECTED: Final[dict[str, str]] = {
    "rules": "the name of a rules release, or a list of them",
    "folios": "a list of folio names, `[]` for none",
    "levels": "a span such as `1-12`, within 1 to 20",
    "start": "a whole number from 1 to 20",
    "highest": "a whole number from 1 to 20",
    "scores": "some of standard array, point buy, rolled, manual, final",
    "points": "a whole number from 0 to 99",
    "hit_points": "some of fixed, rolled, maximum",
    "multiclassing": "yes or no",
    "feats": "yes or no",
    "extra_feats": "a list of levels from 1 to 20",
    "bar": "a list of names, or of kinds such as `spells`",
    "allow": "a list of names",
    "magic_items": "yes, no, a whole number, or `most` and `rarity`",
    "most": "a whole number from 0 to 99",
    "rarity": "common, uncommon, rare, very rare, legendary or artifact",
    "gold": "a whole number of gold pieces",
    "encumbrance": "standard or variant",
}
Names = Annotated[tuple[str, ...], BeforeValidator(_listed), Field(max_length=500)]


class TableRules(_Part):
    """What a table allows beyond or against the rules release; None everywhere restricts nothing.

    rules, folios, bar, allow: ids or names, matched without regard to case, accents and plural. levels: span played.
    points: budget of point buy. gold: gold pieces the gear of level 1 may cost. extra_feats: character levels, one
    entry for each feat given there.
    """

    rules: Names | None = None
    folios: Names | None = None
    levels: Annotated[LevelSpan | None, BeforeValidator(_span)] = None
    scores: Annotated[tuple[ScoreMethod, ...] | None, BeforeValidator(_hyphened)] = None
    points: int | None = Field(default=None, ge=0, le=99)
    hit_points: Annotated[tuple[HitPointMethod, ...] | None, BeforeValidator(_hyphened)] = None
    multiclassing: bool | None = None
    feats: bool | None = None
    extra_feats: Annotated[tuple[Annotated[int, Field(ge=1, le=20)], ...], BeforeValidator(_feat_levels)] = ()
    bar: Names = ()
    allow: Names = ()
    magic_items: Annotated[MagicItemRule | None, BeforeValidator(_magic)] = None
    gold: int | None = Field(default=None, ge=0, le=1_000_000)
    encumbrance: Literal["standard", "variant"] = "standard"

    def bars(self, kind: str, id_: str, name: str) -> bool:
        """Tell whether `bar` takes a thing out of use, by its kind or its name, and `allow` does not bring it back."""
        words = {fold(word) for word in self.bar}
        hit = bool(words & {fold(id_), fold(name)}) or any(_KIND_BY_FOLD.get(word) == kind for word in words)
        return hit and not self.allows(id_, name)

    def allows(self, id_: str, name: str) -> bool:
        """Tell whether `allow` names a thing."""
        return bool({fold(word) for word in self.allow} & {fold(id_), fold(name)})


@dataclass(frozen=True, slots=True)
class TableProblem:
    """One thing wrong in a table's rules. line and column count from 1."""

    line: int
    column: int
    sentence: str

    def __str__(self) -> str:
        return f"{self.line}:{self.column}: {self.sentence}"


def read_table(text: bytes) -> TableRules | list[TableProblem]:
    """Return the rules that a YAML file holds, or everything that is wrong with it, each with line and column."""
    if len(text) > MAX_BYTES:
        return [TableProblem(1, 1, f"the rules of a table may have {MAX_BYTES // 1024} KB; these have more")]
    try:
        if any(isinstance(token, yaml.AliasToken) for token in yaml.scan(text, Loader=_LOADER)):
            return [TableProblem(1, 1, "the rules of a table may not use YAML aliases; write the list out instead")]
        node = yaml.compose(text, Loader=_LOADER)
        data = yaml.load(text, Loader=_LOADER)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        problem = getattr(error, "problem", None) or "it holds characters that no text has"
        return [TableProblem(line, column, f"this is not readable as YAML: {problem}")]
    except (ValueError, RecursionError):
        return [TableProblem(1, 1, "this is not readable as YAML: a value in it is malformed")]
    if data is None:
        return TableRules()
    if not isinstance(data, dict):
        keys = ", ".join(TableRules.model_fields)
        return [TableProblem(1, 1, f"the rules of a table are lines `key: value`; the keys are {keys}")]
    problems = _repeated(node)
    odd = [key for key in data if not isinstance(key, str)]
    if odd:
        return [*problems, TableProblem(1, 1, f"`{odd[0]}` is no key of a table's rules; keys are plain words")]
    try:
        rules = TableRules.model_validate(data)
    except ValidationError as error:
        problems += [_problem(node, part) for part in error.errors(include_url=False)]
        return problems
    return problems or rules


def read_table_rules(text: bytes) -> TableRules | Refused:
    """Return the rules that a YAML file holds, or one refusal whose sentence lists all that is wrong, line by line."""
    rules = read_table(text)
    if isinstance(rules, TableRules):
        return rules
    return Refused("table-rules", "\n".join(f"line {p.line}: {p.sentence}" for p in rules))


def unknown_names(rules: TableRules, catalog: Catalog) -> list[str]:
    """Return one sentence for each name in `bar` and `allow` that nothing in the catalogue answers to."""
    sentences: list[str] = []
    kinds = [*_NAMED_KINDS, *(f"option:{keyword}" for keyword in catalog.keywords())]
    for key, names in (("bar", rules.bar), ("allow", rules.allow)):
        for name in names:
            if fold(name) in _KIND_BY_FOLD or any(catalog.find(kind, name) for kind in kinds):
                continue
            near = nearest(name, [known for kind in kinds for known in catalog.names(kind)])
            hint = f"; nearest: {', '.join(near)}" if near else ""
            sentences.append(f"`{key}` names `{name}`, which nothing in the rules is called{hint}")
    return sentences


def _repeated(node: Any) -> list[TableProblem]:
    seen: set[str] = set()
    problems: list[TableProblem] = []
    for key, _ in node.value:
        if key.value in seen:
            mark = key.start_mark
            problems.append(
                TableProblem(mark.line + 1, mark.column + 1, f"`{key.value}` is given twice; keep one of the two")
            )
        seen.add(key.value)
    return problems


def _problem(node: Any, part: Any) -> TableProblem:
    line, column = node.start_mark.line + 1, node.start_mark.column + 1
    for step in part["loc"]:
        if isinstance(node, yaml.MappingNode):
            for key, value in node.value:
                if key.value == str(step):
                    node, line, column = value, key.start_mark.line + 1, key.start_mark.column + 1
                    break
        elif isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
            node = node.value[step]
            line, column = node.start_mark.line + 1, node.start_mark.column + 1
    return TableProblem(line, column, _sentence(part))


def _sentence(part: Any) -> str:
    steps = [str(step) for step in part["loc"]]
    if part["type"] == "extra_forbidden":
        near = nearest(steps[-1], TableRules.model_fields) or list(TableRules.model_fields)
        return f"`{steps[-1]}` is no key of a table's rules; nearest: {', '.join(near)}"
    if part["type"] == "value_error":
        return f"`{steps[0]}`: {part['msg'].removeprefix('Value error, ')}"
    key = next(step for step in reversed(steps) if step in _EXPECTED)
    return f"`{key}` cannot be {part['input']!r}; expected {_EXPECTED[key]}"
