"""Raw texts (name, concept, notes): they stand as they are, unless the outline would then read something else."""

from typing import Final

from engine.build.outline.cursor import QUOTED, quoted

_GOES_ON: Final = (",", ";")


def _inner(text: str) -> str | None:
    found = QUOTED.fullmatch(text)
    return found[1].replace('""', '"') if found else None


def _needs_quotes(text: str) -> bool:
    """Tell whether a text would be joined with the next line, or be taken for a wrapped one."""
    if text.endswith(_GOES_ON):
        return True
    inner = _inner(text)
    return inner is not None and _needs_quotes(inner)


def wrapped(text: str) -> str:
    """Return a raw text as an outline writes it: in quotes only where it could not stand bare."""
    return quoted(text) if _needs_quotes(text) else text


def unwrapped(text: str) -> str:
    """Return the raw text that stands in an outline. Quotes are part of it unless `wrapped` had to put them."""
    inner = _inner(text)
    return inner if inner is not None and _needs_quotes(inner) else text
