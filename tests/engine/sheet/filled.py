"""Builds with every open choice answered: what a choice asks for is read off the content, never off the audit."""

import random
from collections.abc import Sequence

from engine.build.document import Build, Choose, Increase, Item, Line, Origin, Pick
from engine.rules.catalog import Catalog
from engine.rules.content import Item as Thing
from engine.rules.words import ABILITIES
from engine.sheet import gather
from engine.sheet.gather import Opened, kind_of, permits
from engine.sheet.matching import EITHER

ROUNDS = 4  # choices open choices: an option may ask for a language


def filled(document: Build, catalog: Catalog, seed: int = 0) -> Build:
    """Return the build with picks added until nothing is open (or nothing more can be picked)."""
    rng = random.Random(seed)
    for _ in range(ROUNDS):
        found = gather(document, catalog)
        taken = {p.pick.id for p in found.picked}
        wanting = [o for o in found.opened if _missing(o) > 0 and _reachable(o.place)]
        if not wanting:
            return document
        for opened in wanting:
            items = _answers(opened, catalog, rng, taken)
            if items:
                document = _put(document, opened.place, items)
    return document


def _reachable(place: str) -> bool:
    return place in ("/species", "/background") or (place.startswith("/levels/") and "/items/" not in place)


def _missing(opened: Opened) -> int:
    if opened.choice.keyword == "increase":
        points = sum(p.pick.count if p.keyword == "increase" else opened.choice.amount for p in opened.picks)
        return opened.count * opened.choice.amount - points
    return opened.count - len(opened.picks)


def _answers(opened: Opened, catalog: Catalog, rng: random.Random, taken: set[str]) -> list[Item]:
    choice, missing = opened.choice, _missing(opened)
    if choice.keyword == "increase":
        free = [a for a in ABILITIES if a not in choice.but and (not choice.from_ or a in choice.from_)]
        if choice.split or choice.amount == 1:
            return [Increase(ability=a, amount=1) for a in rng.sample(free, min(missing, len(free)))]
        return [Increase(ability=rng.choice(free), amount=missing)]
    keyword = "language" if choice.keyword == EITHER else choice.keyword
    found = [id_ for id_ in _candidates(opened, keyword, catalog) if id_ not in taken]
    picks = rng.sample(found, min(missing, len(found)))
    taken.update(picks)
    return [Choose(keyword=keyword, picks=tuple(Pick(id=id_) for id_ in picks))] if picks else []


def _candidates(opened: Opened, keyword: str, catalog: Catalog) -> list[str]:
    choice = opened.choice
    kind = kind_of(keyword, choice)
    if keyword == "expertise":
        return [p.id for p in catalog.every("skill")]
    found = [n for n in catalog.every(kind) if permits(choice, keyword, Pick(id=n.id), catalog)]
    if kind == "spell":
        level = catalog.class_(opened.owner or "")
        top = 0 if keyword == "cantrip" else 1 if level is None else 2
        return [n.id for n in found if (s := catalog.spell(n.id)) is not None and s.level <= top]
    if kind == "tool":
        return [n.id for n in found if isinstance(n.entry, Thing)]
    return [n.id for n in found]


def _put(document: Build, place: str, items: Sequence[Item]) -> Build:
    if place in ("/species", "/background"):
        field = place[1:]
        origin: Origin = getattr(document, field)
        return document.model_copy(update={field: origin.model_copy(update={"items": (*origin.items, *items)})})
    _, _, class_id, nth = place.split("/")
    lines = dict(document.levels.get(class_id, {}))
    line = lines.get(int(nth), Line())
    lines[int(nth)] = line.model_copy(update={"items": (*line.items, *items)})
    return document.model_copy(update={"levels": {**document.levels, class_id: lines}})
