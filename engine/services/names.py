"""How builds are named: by number or by a name that is unique on its server however it is spelled."""

import re
from typing import Final

from engine.problem import Refused
from engine.rules.names import fold
from engine.services.views import Ref

_NUMBER: Final = re.compile(r"\s*#?\s*(\d{1,9})\s*")
_KEY: Final = 240


def number_of(ref: Ref) -> int | None:
    """Return the number that a reference is, or None if it is a name."""
    if isinstance(ref, int):
        return ref
    found = _NUMBER.fullmatch(ref)
    return int(found[1]) if found else None


def name_key(name: str) -> str:
    """Return what a name is unique by on its server; a name of nothing but marks stands for itself."""
    return (fold(name) or name.casefold())[:_KEY]


def bad_name(name: str) -> Refused | None:
    """Return why a build cannot have a name, or None if it can. Refused: "name-is-a-number"."""
    if number_of(name) is None:
        return None
    return Refused(
        "name-is-a-number", f'A build cannot be called "{name}": numbers name builds already. Put a word into its name.'
    )


def taken(name: str) -> Refused:
    """Return the refusal of a name that another build has. Refused: "name-taken"."""
    return Refused(
        "name-taken",
        f'A build on this server is already called "{name}"; capitals, accents and plurals make no difference. '
        "Choose another name, or change your own build with /build edit.",
    )
