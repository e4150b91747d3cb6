"""States and conditions: read from what people write, and which of them a build can be in."""

from collections.abc import Iterable

from engine.problem import Refused
from engine.rules.catalog import Catalog, Named
from engine.sheet.gathered import Gathered

STATE_KINDS = ("state", "condition")


def split_states(text: str) -> tuple[str, ...]:
    """Return the names in a list parted by commas, empty places left out."""
    return tuple(part.strip() for part in text.split(",") if part.strip())


def find_states(names: Iterable[str], catalog: Catalog) -> tuple[str, ...] | Refused:
    """Return the ids of the states and conditions named, each once.

    Refused: "no-such-state" with the nearest names.
    """
    found: list[str] = []
    for name in names:
        hits = [named for kind in STATE_KINDS for named in catalog.find(kind, name)]
        if not hits:
            near = [each for kind in STATE_KINDS for each in catalog.suggest(kind, name)][:3]
            hint = f" Nearest: {', '.join(near)}." if near else ""
            return Refused("no-such-state", f'No state is called "{name[:60]}".{hint}')
        found.append(hits[0].id)
    return tuple(dict.fromkeys(found))


def possible_states(gathered: Gathered, level: int) -> list[Named]:
    """Return the states and conditions that a build can be in at a level, those of its own features and spells first.

    A state that needs a feature, spell or item is possible where the build has it; all others are for anybody.
    """
    own: list[Named] = []
    others: list[Named] = []
    catalog = gathered.catalog
    for kind in STATE_KINDS:
        for named in catalog.every(kind):
            state = catalog.state(named.id)
            if state is None or state.needs is None:
                others.append(named)
            elif can_be(gathered, state.needs, level):
                own.append(named)
    return own + others


def can_be(gathered: Gathered, needs: str, level: int) -> bool:
    """Tell whether a build has the feature, spell or item that a state needs."""
    return gathered.has(needs, level) or any(
        s.spell == needs and s.since <= level <= s.until and s.how != "listed" for s in gathered.spells
    )


def state_names(ids: Iterable[str], catalog: Catalog) -> tuple[str, ...]:
    """Return the printed names of states and conditions."""
    return tuple(state.name if (state := catalog.state(id_)) is not None else id_ for id_ in ids)
