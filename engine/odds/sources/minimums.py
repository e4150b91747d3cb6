"""The minimums that a build's classes ask for, as needs of a score question."""

from __future__ import annotations

from engine.odds.scores import Need
from engine.odds.sources.figures import Brought, Figures
from engine.problem import Refused


def minimums(figures: Figures) -> Brought | Refused:
    """Return the multiclass minimums of every class that the build has at its level.

    Refused: the build has one class, which asks for nothing. Source: SRD 5.1, Multiclassing, Prerequisites.
    """
    held = list(figures.at.class_levels)
    if len(held) < 2:
        return Refused("one-class", f"{figures.whose()} has one class, so no minimum is asked for; give needs by hand.")
    needs: list[Need] = []
    names = []
    for class_id in held:
        content = figures.catalog.class_(class_id)
        if content is None:
            continue
        names.append(content.name)
        needs += [Need(abilities=(a,), minimum=least) for a, least in content.multiclass.all_of.items()]
        either = content.multiclass.any_of
        for least in sorted(set(either.values())):
            needs.append(Need(abilities=tuple(a for a, m in either.items() if m <= least), minimum=least))
    told = f"minimums of {', '.join(names)} of {figures.whose()}"
    return Brought(fields={"needs": tuple(dict.fromkeys(needs))}, told=(told,))
