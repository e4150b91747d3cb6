"""Which pick answers which open choice."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from engine.build.document import Choose, Increase, Item, Pick
from engine.rules.catalog import Catalog
from engine.rules.grants.choices import Choice
from engine.sheet.gathered import Opened, Picked

# A background of one's own: so many tools and languages together.
EITHER: Final = "tool-or-language"
SPELL_KEYWORDS: Final = frozenset({"cantrip", "spell", "secret"})
# Written without a choice that opens them: the list readied for the day, and spells copied into a book.
UNOPENED: Final = frozenset({"prepare", "copied"})
# Keywords whose picks are the whole list from that line on.
WHOLE_LISTS: Final = frozenset({"mastery"})


@dataclass(slots=True)
class Opening:
    """A choice while its answers are being looked for. room: picks (for `increase` points) still to come."""

    choice: Choice
    level: int
    owner: str | None
    label: str
    source: str
    place: str
    count: int
    room: int
    picks: list[Picked] = field(default_factory=list)

    def frozen(self) -> Opened:
        """Return the choice with the answers found."""
        return Opened(
            self.choice,
            self.level,
            self.owner,
            self.label,
            self.source,
            self.place,
            self.count,
            tuple(self.picks),
        )


def kind_of(keyword: str, choice: Choice | None = None) -> str:
    """Return the kind of content that picks under a keyword name, as the catalogue calls it."""
    if keyword in SPELL_KEYWORDS or keyword in UNOPENED or (choice is not None and choice.of == "spell"):
        return "spell"
    match keyword:
        case "skill" | "language" | "tool" | "feat" | "feature":
            return keyword
        case "kind":
            return "humanoid-kind"
        case "mastery":
            return "item"
        case _:
            return f"option:{keyword}"


def accepts(choice: Choice, keyword: str) -> bool:
    """Tell whether a pick under a keyword can answer a choice at all."""
    if choice.keyword == keyword:
        return True
    if choice.keyword == EITHER:
        return keyword in ("tool", "language")
    return keyword == "feat" and choice.or_feat


def permits(choice: Choice, keyword: str, pick: Pick, catalog: Catalog) -> bool:
    """Tell whether a pick is among what a choice offers. Prerequisites and spell levels by class are not looked at."""
    if keyword == "feat" and choice.or_feat:
        return True
    if pick.id in choice.but:
        return False
    if keyword == "increase":
        return pick.count <= choice.amount and (not choice.from_ or pick.id in choice.from_)
    if keyword in SPELL_KEYWORDS or choice.of == "spell":
        spell = catalog.spell(pick.id)
        if spell is None:
            return False
        if keyword == "cantrip" and spell.level != 0:
            return False
        if keyword == "spell" and spell.level == 0:
            return False
        if choice.list is not None and not catalog.on_list(spell, choice.list):
            return False
        limit = choice.spell_level.constant if choice.spell_level is not None else None
        if isinstance(limit, int) and spell.level > limit:
            return False
        return spell.level >= choice.least and (not choice.from_ or spell.id in choice.from_)
    if not choice.from_:
        return True
    if keyword == "expertise":
        # `from` names the tools that may be picked beside any skill.
        return pick.id in choice.from_ or catalog.named("skill", pick.id) is not None
    if pick.id in choice.from_:
        return True
    if keyword == "tool":
        item = catalog.item(pick.id)
        return item is not None and any(group in choice.from_ for group in item.groups)
    if keyword == "language":
        groups = next((w.groups for w in catalog.release.languages if w.id == pick.id), ())
        return any(group in choice.from_ for group in groups)
    return False


def found_in(items: Iterable[Item], path: str, level: int, owner: str | None) -> list[tuple[Picked, str | None]]:
    """Return the picks among items, in order, each with the class that the member named beside the keyword."""
    found: list[tuple[Picked, str | None]] = []
    for i, item in enumerate(items):
        if isinstance(item, Choose):
            for j, pick in enumerate(item.picks):
                found.append((Picked(item.keyword, pick, f"{path}/{i}/picks/{j}", level, item.of or owner), item.of))
        elif isinstance(item, Increase):
            pick = Pick.model_construct(id=item.ability, count=item.amount, bonus=0, items=())
            found.append((Picked("increase", pick, f"{path}/{i}", level, owner), None))
    return found


def meant(openings: Iterable[Opening], picked: Picked) -> Picked:
    """Return the pick as an open choice reads it that lets an option of another list stand for one of its own."""
    for opening in openings:
        own = next((own for other, own in opening.choice.stands_for if other == picked.pick.id), None)
        if own is not None and opening.room > 0 and picked.keyword != opening.choice.keyword:
            return replace(picked, keyword=opening.choice.keyword, pick=picked.pick.model_copy(update={"id": own}))
    return picked


Written = tuple[Picked, str | None]


def assign(openings: Sequence[Opening], written: Sequence[Written], catalog: Catalog) -> list[Opening | None]:
    """Give each pick of one place to the open choice it answers; None for those for which there is no room.

    As many picks as possible go to choices that offer them, the first ones first; then the rest to any choice of the
    keyword with room, so that a pick from outside the list still counts as the (wrong) answer. Points of increases,
    and feats in their place, are given one after the other.
    """
    found: list[Opening | None] = [None] * len(written)
    offers: dict[int, list[Opening]] = {}
    for i, (picked, of) in enumerate(written):
        fitting = [
            o
            for o in openings
            if accepts(o.choice, picked.keyword) and (of is None or o.owner is None or o.owner == of)
        ]
        if any(o.choice.keyword == "increase" for o in fitting):
            found[i] = _spend(fitting, picked, catalog)
        else:
            offers[i] = fitting
    _spread(offers, written, found, catalog)
    for i, (picked, _) in enumerate(written):
        opening = found[i]
        if opening is not None:
            opening.picks.append(picked)
    return found


def _spend(fitting: Sequence[Opening], picked: Picked, catalog: Catalog) -> Opening | None:
    """Take the points of an increase, or of a feat in its place, out of the choice that fits best."""

    def cost(opening: Opening) -> int:
        if picked.keyword == "increase":
            return picked.pick.count
        return opening.choice.amount if opening.choice.keyword == "increase" else 1

    able = [o for o in fitting if o.room >= cost(o)]
    if not able:
        return None
    best = min(able, key=lambda o: (not permits(o.choice, picked.keyword, picked.pick, catalog), o.room - cost(o)))
    best.room -= cost(best)
    return best


@dataclass(slots=True)
class _Spreading:
    """Picks and choices while they are matched. taken: id of a choice -> the picks it has.

    A class, since functions that call themselves would keep all of this until the collector comes.
    """

    offers: dict[int, list[Opening]]
    written: Sequence[Written]
    found: list[Opening | None]
    catalog: Catalog
    taken: dict[int, list[int]] = field(default_factory=dict)
    wanted: dict[int, list[Opening]] = field(default_factory=dict)

    def offered(self, i: int) -> list[Opening]:
        """Return the choices that a pick may go to, those with a list of their own first."""
        if i not in self.wanted:
            picked = self.written[i][0]
            some = [
                o for o in self.offers[i] if o.room > 0 and permits(o.choice, picked.keyword, picked.pick, self.catalog)
            ]
            self.wanted[i] = sorted(some, key=lambda o: not (o.choice.from_ or o.choice.list))
        return self.wanted[i]

    def place(self, i: int, tried: set[int]) -> bool:
        """Find a place for a pick, moving others if need be; tell whether there was one."""
        for opening in self.offered(i):
            key = id(opening)
            if key in tried:
                continue
            tried.add(key)
            held = self.taken.setdefault(key, [])
            if len(held) < opening.room:
                held.append(i)
                self.found[i] = opening
                return True
            for other in held:
                if len(self.offered(other)) > 1 and self.place(other, tried):
                    held[held.index(other)] = i
                    self.found[i] = opening
                    return True
        return False


def _spread(
    offers: dict[int, list[Opening]], written: Sequence[Written], found: list[Opening | None], catalog: Catalog
) -> None:
    """Match picks and choices so that as many picks as possible are where they are offered (augmenting paths)."""
    spreading = _Spreading(offers, written, found, catalog)
    for i in offers:
        spreading.place(i, set())
    taken = spreading.taken
    left = {id(o): o.room - len(taken.get(id(o), ())) for fitting in offers.values() for o in fitting}
    for i, fitting in offers.items():
        if found[i] is None:
            found[i] = next((o for o in fitting if left[id(o)] > 0), None)
        opening = found[i]
        if opening is None:
            continue
        if i not in taken.get(id(opening), ()):
            left[id(opening)] -= 1
        opening.room -= 1
