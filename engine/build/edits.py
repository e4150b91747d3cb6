"""Edits: typed field changes of a build document, applied exactly or not at all."""

from collections.abc import Iterable
from typing import Any, Final

from pydantic import BaseModel, ConfigDict, JsonValue, ValidationError

from engine.build.document import Build, dump
from engine.problem import Refused

# What a field that is not stored stands for; other absent fields are null.
DEFAULTS: Final[dict[str, JsonValue]] = {
    "/rules": "srd-5.1",
    "/scores/method": "manual",
    **{f"/{name}": [] for name in ("folios", "order", "gear", "prepared", "goals", "notes")},
    "/species/items": [],
    "/background/items": [],
}
_TOP: Final = frozenset(name for name in Build.model_fields if name not in ("schema_", "levels"))
_ORIGINS: Final = ("species", "background")


class Edit(BaseModel):
    """One change: JSON pointer into the stored document, value before, value after; null where nothing stands.

    Lines are changed whole, as `/levels/rogue/3`; the list of classes by level is `/order`.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    path: str
    before: JsonValue = None
    after: JsonValue = None


def pointer(*steps: str | int) -> str:
    """Return the JSON pointer (RFC 6901) of the steps."""
    return "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in steps)


def steps_of(path: str) -> tuple[str, ...]:
    """Return the steps of a JSON pointer."""
    return tuple(step.replace("~1", "/").replace("~0", "~") for step in path.split("/")[1:])


def apply(build: Build, edits: Iterable[Edit]) -> Build | Refused:
    """Return the build with all edits made, or why not one of them was.

    Exact: each `before` must be what the build has there. Refused codes: `edit-unknown-path`, `edit-clash`,
    `edit-no-build` (every edit fits, but what comes out is no build document).
    """
    data = dump(build)
    for edit in edits:
        place = _place(data, edit.path)
        if place is None:
            return Refused("edit-unknown-path", f"`{edit.path}` is no part of a build that an edit can change.")
        holder, key = place
        default = DEFAULTS.get(edit.path)
        if holder.get(key, default) != edit.before:
            return Refused(
                "edit-clash",
                f"The build has moved on: {said(edit.path)} is no longer what this change was made for. "
                "Make the change anew on the present revision.",
            )
        if edit.after is None or edit.after == default:
            holder.pop(key, None)
        else:
            holder[key] = edit.after
    try:
        return Build.model_validate(data)
    except ValidationError as error:
        reason = error.errors(include_url=False)[0]["msg"].removeprefix("Value error, ")
        return Refused("edit-no-build", f"With these changes the build would not hold together: {reason}.")


def invert(edits: Iterable[Edit]) -> tuple[Edit, ...]:
    """Return the edits that undo these: `apply(apply(b, e), invert(e)) == b`."""
    return tuple(Edit(path=e.path, before=e.after, after=e.before) for e in reversed(tuple(edits)))


def _place(data: dict[str, Any], path: str) -> tuple[dict[str, Any], str] | None:
    """Return the mapping and key that a path names; None for what edits cannot change."""
    match steps_of(path):
        case (name,) if name in _TOP:
            return data, name
        case ("scores", "values", ability) if "scores" in data:
            return data["scores"]["values"], ability
        case ("scores", "method" | "roll" as name) if "scores" in data:
            return data["scores"], name
        case (origin, "items") if origin in _ORIGINS and origin in data:
            return data[origin], "items"
        case ("levels", class_id, nth) if nth.isascii() and nth.isdigit():
            return data.setdefault("levels", {}).setdefault(class_id, {}), nth
    return None


def said(path: str) -> str:
    """Return what a path names in plain words, ids in place of names: `level 3 of rogue`."""
    match steps_of(path):
        case ("levels", class_id, nth):
            return f"level {nth} of {class_id}"
        case ("order",):
            return "the order of the levels"
        case ("scores", "values", ability):
            return f"the {ability.title()} score"
        case ("scores", "method" | "roll"):
            return "the way the scores were made"
        case (name, *_):
            return f"the {name}" if name not in ("notes", "goals", "folios") else f"one of the {name}"
    return "the build"
