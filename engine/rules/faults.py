"""What the models say against an entry, in words for the person who wrote it."""

from typing import Any, Final, get_args

from pydantic import BaseModel

from engine.rules.grants import GRANT_KINDS, GrantBase
from engine.rules.names import nearest

Loc = tuple[int | str, ...]
_PATTERNS: Final = (
    (r"(?:[1-9]|[1-3]\d|40)d", "is no dice; write `8d6`, `2d8+5` or `1d8+MOD`"),
    (r"^[1-9]\d{0,2}d", "is no dice; write a count and the sides, such as `2d6`"),
    (r"[a-z][a-z0-9]*(?:_", "is no name of a column; use small letters, digits and `_`, such as `spells_known`"),
    (r"[a-z0-9]+(?:", "is no id; use small letters, digits and hyphens, such as `harbour-pilot`"),
    ("0|1/8", "is no challenge rating; write `1/4`, `1/2` or a whole number in quotes"),
    ("[0-9a-z/+-]", "is no cell of a table; write a number, dice such as 1d6, `unlimited` or null"),
)
_KINDS: Final = {
    "string_type": "must be a text; put it in quotes",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "tuple_type": "must be a list, such as [first, second]",
    "list_type": "must be a list, such as [first, second]",
    "dict_type": "must be a block of keys with their values",
    "model_type": "must be a block of keys with their values",
    "model_attributes_type": "must be a block of keys with their values",
    "none_required": "must be left empty",
}


def as_written(model: Any, loc: Loc) -> tuple[Loc, list[str]]:
    """Return the place of an error as it is written in the file, and the keys known there.

    A place inside a grant names the grant's kind too, which is no key of the file; so do places inside alternatives.
    """
    written: list[int | str] = []
    models: list[Any] = [model]
    for i, step in enumerate(loc):
        kinds = [m for m in models if issubclass(m, GrantBase) and m.model_fields["kind"].default == step]
        if kinds and written and isinstance(written[-1], int) and len(models) > 1:
            models = kinds
            continue
        if isinstance(step, str) and i and ("[" in step or step in ("int", "str", "bool", "float")):
            continue  # the name of one of several types that a value may have
        written.append(step)
        if isinstance(step, str) and i + 1 < len(loc):
            fields = [m.model_fields for m in models]
            named = [f for m in fields for name, f in m.items() if step in (name, f.alias)]
            models = [found for f in named for found in _models_in(f.annotation)] or models
    keys = [field.alias or name for m in models for name, field in m.model_fields.items()]
    return tuple(written), list(dict.fromkeys(keys))


def _models_in(annotation: Any) -> list[Any]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in get_args(annotation) for found in _models_in(part)]


def sentence_of(part: Any, loc: Loc, keys: list[str]) -> str:
    """Return one error as a sentence. part: an error of pydantic; loc, keys: as `as_written` returns them."""
    shown = ".".join(str(p) for p in loc) or "the entry"
    kind, context, given = part["type"], part.get("ctx", {}), _given(part.get("input"))
    if kind == "extra_forbidden":
        return f"`{shown}` is no key that is known here{_near(str(loc[-1]), keys, 'nearest known keys')}"
    if kind == "missing":
        return f"`{shown}` is missing"
    if kind == "value_error":
        message = part["msg"].removeprefix("Value error, ")
        return f"`{shown}`: {message}" if loc else message
    if kind == "union_tag_not_found":
        return f"`{shown}` does not say what it gives; begin it with `kind:`, such as `kind: proficiency`"
    if kind == "union_tag_invalid":
        tag = str(context.get("tag", ""))
        return f"`{shown}`: `{tag[:40]}` is no kind of grant{_near(tag, GRANT_KINDS)}"
    if kind == "literal_error":
        allowed = [word.strip("'\" ") for word in str(context.get("expected", "")).replace(" or ", ", ").split(",")]
        return f"`{shown}`: {given} is not known here; expected one of {', '.join(allowed)}"
    if kind == "string_pattern_mismatch":
        pattern = str(context.get("pattern", ""))
        said = next((words for part_, words in _PATTERNS if part_ in pattern), "is not written as it should be")
        return f"`{shown}`: {given} {said}"
    return f"`{shown}` {_KINDS.get(kind) or _bounds(kind, context) or part['msg']}{_not(kind, given)}"


def _bounds(kind: str, context: Any) -> str | None:
    match kind:
        case "greater_than_equal":
            return f"must be at least {context['ge']}"
        case "less_than_equal":
            return f"must be at most {context['le']}"
        case "string_too_long":
            return f"may have {context['max_length']} characters"
        case "string_too_short":
            return "is empty"
        case "too_short":
            return f"needs at least {context['min_length']}"
        case "too_long":
            return f"may have {context['max_length']} at most"
    return None


def _not(kind: str, given: str) -> str:
    return f", not {given}" if kind in _KINDS or kind in ("greater_than_equal", "less_than_equal") else ""


def _given(value: Any) -> str:
    if isinstance(value, dict):
        return "a block of keys"
    if isinstance(value, list | tuple):
        return "a list"
    if value is None:
        return "nothing"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    return f"`{text[:40]}{'…' if len(text) > 40 else ''}`"


def _near(word: str, known: Any, called: str = "nearest") -> str:
    near = nearest(word, known)
    return f"; {called}: {', '.join(near)}" if near else ""
