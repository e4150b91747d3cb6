"""Parts of a build as outline text: printed to fill a form, read back from one."""

import asyncio
from typing import Final, assert_never

from engine.build.document import Build
from engine.build.outline import (
    CatalogFor,
    OutlineError,
    parse_outline,
    print_header,
    print_level,
    print_outline,
    replace_header,
    replace_level,
)
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.services.views import Part

LONGEST: Final = 64_000
LONGEST_REASON: Final = 1_000
LONGEST_TITLE: Final = 100


def text_refusal(text: str, part: Part = "whole") -> Refused | None:
    """Return why a text cannot be a part of an outline, or None if it may be one.

    The text of a level may be empty, which takes the last level away. Refused: "text-too-long", "text-empty".
    """
    if len(text) > LONGEST:
        return Refused(
            "text-too-long",
            f"That text has {len(text):,} characters; an outline may have {LONGEST:,}, and twenty levels need fewer.",
        )
    if not text.strip() and not isinstance(part, int):
        return Refused("text-empty", "That text is empty. An outline begins with a line such as `Build: Reed Warden`.")
    return None


def level_refusal(build: Build, level: int) -> Refused | None:
    """Return why a build has no such level, or None if it has. Refused: "no-such-level"."""
    if 1 <= level <= build.top:
        return None
    if build.top == 0:
        return Refused("no-such-level", f"{build.name} has no levels yet; add level lines to it first.")
    return Refused("no-such-level", f"{build.name} has levels 1 to {build.top}; level {level} is not one of them.")


def part_refusal(build: Build, part: Part) -> Refused | None:
    """Return why a build has no such part, or None if it has. The level after the last may be named, to add it."""
    if not isinstance(part, int) or (1 <= part <= min(20, build.top + 1)):
        return None
    return level_refusal(build, part) or Refused("no-such-level", "A build has at most twenty levels.")


def print_part(build: Build, part: Part, catalog: Catalog) -> str:
    """Return a part of a build as outline text; empty for the level after the last."""
    match part:
        case "whole":
            return print_outline(build, catalog)
        case "header":
            return print_header(build, catalog)
        case int():
            return print_level(build, part, catalog) if part <= build.top else ""
        case _:
            assert_never(part)


def replaced(build: Build | None, part: Part, text: str, catalog: Catalog | CatalogFor) -> Build | list[OutlineError]:
    """Return the build with a part replaced by what a text says, or every error of the text.

    build: None only for a whole outline. Raises: ValueError for a part of no build.
    """
    found = _read(build, part, text, catalog)
    return _pinned(found, catalog) if isinstance(found, Build) else found


def _pinned(build: Build, catalog: Catalog | CatalogFor) -> Build:
    """Return the build with the hash of every folio that its text names by version alone, so that it stays at that."""
    if not any(use.version and not use.hash for use in build.folios):
        return build
    found = catalog if isinstance(catalog, Catalog) else catalog(build.rules, tuple(use.id for use in build.folios))
    loaded = {} if isinstance(found, Refused) else {(f.id, f.header.version): f.hash for f in found.folios}
    uses = tuple(
        use if use.hash else use.model_copy(update={"hash": loaded.get((use.id, use.version), "")})
        for use in build.folios
    )
    return build.model_copy(update={"folios": uses})


def _read(build: Build | None, part: Part, text: str, catalog: Catalog | CatalogFor) -> Build | list[OutlineError]:
    if part == "whole":
        return parse_outline(text, catalog)
    if build is None:
        raise ValueError(f"there is no build to replace the {part} of")
    if part == "header":
        return replace_header(build, text, catalog)
    if not isinstance(catalog, Catalog):
        raise ValueError("a level is read with the catalogue of its build")
    return replace_level(build, part, text, catalog)


async def read_part_text(
    build: Build | None, part: Part, text: str, catalog: Catalog | CatalogFor
) -> Build | list[OutlineError]:
    """Return what `replaced` does, worked out beside the event loop, since a wrong text may take a while."""
    return await asyncio.to_thread(replaced, build, part, text, catalog)
