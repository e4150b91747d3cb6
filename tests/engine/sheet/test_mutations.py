"""Every typed grant of the shipped folio matters: taken away, or with each of its amounts raised by one, it shows.

Design, section 11: a number must change through a reason (or a beaten alternative) with the grant's source. Grants
that change rolls and no totals (advantage, resistances, dice on a hit) must change a note with that source; choices
must change what is open; spells given must change the spells; languages, which are no number, must change whether the
goal `proficient in` is met, and rulings what the audit asks.
"""

from collections import Counter
from functools import cache
from typing import Final

import pytest

from engine.build.document import Pick
from engine.rules.grants import GRANT_KINDS, AnyGrant
from tests.engine.sheet.make import catalog
from tests.engine.sheet.mutated import (
    GEAR,
    SCORES,
    Place,
    Wanted,
    changed,
    differing,
    judged,
    look,
    one_more,
    places,
    source_of,
    wanted,
)

NUMBER: Final = frozenset({"number"})
# Ways in which a grant of a kind must show, any of them; all other kinds must change a number.
MUST: Final[dict[str, frozenset[str]]] = {
    "note": frozenset({"note"}),
    "shape-limit": frozenset({"note"}),
    "critical-range": frozenset({"note"}),
    "extra-critical-dice": frozenset({"note"}),
    "extra-die": frozenset({"note"}),
    "reroll-d20": frozenset({"note"}),
    "defense": frozenset({"note"}),
    "advantage": frozenset({"note"}),
    "extra-damage": frozenset({"number", "note"}),  # the mean counts only what every hit adds
    "spell-damage": frozenset({"number", "note"}),  # only attack cantrips have numbers
    "choice": frozenset({"choice"}),
    "extra-spells": frozenset({"spell"}),
    "ruling": frozenset({"judged"}),
}
# Armor that is not mastered is a note of the rule, not of the feature; languages are nowhere on the sheet.
MUST_PROFICIENCY: Final = {"armor": frozenset({"any note"}), "language": frozenset({"judged"})}
PIECES: Final = {
    "simple": "mace",
    "martial": "longsword",
    "light": "leather-armor",
    "medium": "scale-mail",
    "heavy": "plate-armor",
}


Gear = tuple[str | Pick, ...]


@cache
def by_group() -> dict[str, list[Place]]:
    found: dict[str, list[Place]] = {}
    for place in places():
        found.setdefault(place.group, []).append(place)
    return found


def must(grant: AnyGrant) -> frozenset[str]:
    """The ways in which a grant may show."""
    if grant.kind == "proficiency":
        return MUST_PROFICIENCY.get(grant.of, NUMBER)
    return MUST.get(grant.kind, NUMBER)


def settings(grant: AnyGrant) -> list[tuple[str, Gear]]:
    """Scores and gear in which a grant may show, the likeliest first."""
    gear: list[Gear] = list(GEAR.values())
    if grant.kind == "proficiency" and grant.of in ("weapon", "armor"):
        gear = [(PIECES.get(id_, id_),) for id_ in grant.ids] + gear
    return [(scores, pieces) for scores in SCORES.values() for pieces in gear]


def unseen(place: Place) -> tuple[set[str], Counter[str]]:
    """The mutations of a grant that nothing shows, and by which ways the others did."""
    grant, need = place.grant, wanted(place)
    left: dict[str, tuple[AnyGrant, ...]] = {"removed": (), **{name: (more,) for name, more in one_more(grant)}}
    ways: Counter[str] = Counter()
    for scores, gear in settings(grant):
        if not left:
            break
        for name in _seen(place, need, scores, gear, left, ways):
            del left[name]
    return set(left), ways


def _seen(
    place: Place,
    need: Wanted,
    scores: str,
    gear: Gear,
    left: dict[str, tuple[AnyGrant, ...]],
    ways: Counter[str],
) -> list[str]:
    grant, found = place.grant, []
    document = need.document(scores, gear)
    at = source_of(document, need.states, grant)
    if at is None:
        return []
    source, since, until = at
    for level in sorted({since, until}):
        before = look(document, need.states, level)
        said = judged(document, grant) if "judged" in must(grant) else ()
        for name, grants in left.items():
            if name in found:
                continue
            with changed(place, *grants):
                shown = differing(before, look(document, need.states, level), source)
                if "judged" in must(grant) and judged(document, grant) != said:
                    shown.add("judged")
            if shown & must(grant):
                found.append(name)
                ways[min(shown & must(grant))] += 1
    return found


@pytest.mark.parametrize("group", sorted(by_group()))
def test_every_grant_matters(group: str) -> None:
    lost, ways, kinds = [], Counter[str](), Counter[str]()
    for place in by_group()[group]:
        left, seen = unseen(place)
        lost += [(place.name, place.grant.kind, name) for name in sorted(left)]
        ways += seen
        kinds[place.grant.kind] += 1
    counts = ", ".join(f"{count} by a {way}" for way, count in sorted(ways.items()))
    print(
        f"{group}: {sum(kinds.values())} grants of {len(kinds)} kinds, {sum(ways.values())} mutations seen ({counts})"
    )
    assert lost == []


def test_every_grant_of_the_folio_is_mutated() -> None:
    counted = Counter(place.grant.kind for group in by_group().values() for place in group)
    assert sum(counted.values()) > 950
    # Kinds that no entry of SRD 5.1 has: sizes and speeds are facts of species; the rest is for other folios.
    others = {"attunement", "expertise", "initiative-bonus", "natural-weapon", "passive-bonus", "size", "slot-bonus"}
    assert set(GRANT_KINDS) - set(counted) <= others
    assert {place.owner[1] for group in by_group().values() for place in group} >= {
        named.id for named in catalog().every("class")
    }


def test_what_a_mutation_leaves_behind_is_nothing() -> None:
    place = next(p for p in by_group()["class rogue"] if p.grant.kind == "lowest-d20")
    need = wanted(place)
    document = need.document(SCORES["good"], ())
    before = look(document, (), document.top)
    with changed(place):
        assert look(document, (), document.top) != before
    assert look(document, (), document.top) == before
