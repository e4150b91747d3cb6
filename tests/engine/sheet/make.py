"""Short ways to write build documents for tests of the sheet; ids as the content has them."""

from collections.abc import Mapping, Sequence
from functools import lru_cache

from engine.build.document import (
    Build,
    Choose,
    Flag,
    Gain,
    Granted,
    Increase,
    Item,
    Line,
    Lose,
    Origin,
    Pick,
    Scores,
    Swap,
)
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITIES
from engine.sheet import Number, Sheet, sheet
from engine.store.folio_files import load_shipped

FLAGS = ("custom", "carried", "attuned", "two-handed", "off-hand")


@lru_cache(maxsize=1)
def catalog() -> Catalog:
    """The catalogue of the release alone."""
    return Catalog([load_shipped("srd-5.1")])


def pick(text: str, *items: str | Item) -> Pick:
    """`2 dagger`, `rapier +1`, `chain-mail` with items in parentheses."""
    words = text.split()
    count, bonus = 1, 0
    if words[0].isdecimal():
        count = int(words.pop(0))
    if words[-1].startswith("+"):
        bonus = int(words.pop())
    return Pick(id=words[0], count=count, bonus=bonus, items=tuple(one(i) for i in items))


def one(text: str | Item) -> Item:
    """`skill perception, stealth`, `+2 dex`, `swap spell fog-cloud for longstrider`, `gain rapier +1`, `attuned`."""
    if not isinstance(text, str):
        return text
    word, _, rest = text.partition(" ")
    if text in FLAGS:
        return Flag.model_validate({"flag": text})
    if word.startswith("+"):
        return Increase.model_validate({"ability": rest, "amount": int(word)})
    if word == "swap":
        keyword, old, _, new = rest.split()
        return Swap(keyword=keyword, old=Pick(id=old), new=Pick(id=new))
    picks = tuple(pick(p) for p in rest.split(", "))
    if word == "gain":
        return Gain(picks=picks)
    if word == "lose":
        return Lose(picks=picks)
    keyword, _, of = word.partition("/")
    return Choose(keyword=keyword, of=of or None, picks=picks)


def chosen(keyword: str, *picks: Pick) -> Choose:
    """A choice whose picks have parentheses of their own."""
    return Choose(keyword=keyword, picks=picks)


def gift(why: str, item: str | Item) -> Granted:
    """`granted "why" item`."""
    return Granted(text=why, item=one(item))


def build(
    classes: str,
    scores: str = "10 10 10 10 10 10",
    *,
    method: str = "manual",
    species: str | Sequence[str | Item] = (),
    background: Sequence[str | Item] = (),
    gear: Sequence[str | Pick] = (),
    lines: Mapping[str, Sequence[str | Item]] | None = None,
    subclasses: Mapping[str, str] | None = None,
    hp: Mapping[str, int] | None = None,
    name: str = "Tide Reader",
) -> Build:
    """classes: `rogue 4, ranger 4` in the order of levels. scores: Str to Cha. species: id, then items.

    background: name of one of one's own, then items. lines, hp: by `rogue 3`. subclasses: class -> id, taken at the
    level at which the class offers it.
    """
    order: list[str] = []
    for part in classes.split(", "):
        class_id, count = part.split()
        order.extend([class_id] * int(count))
    content = catalog()
    levels: dict[str, dict[int, Line]] = {}
    wanted: dict[tuple[str, int], dict[str, object]] = {}
    for class_id, subclass in (subclasses or {}).items():
        found = content.class_(class_id)
        assert found is not None
        wanted.setdefault((class_id, found.subclass_level), {})["subclass"] = subclass
    for key, items in (lines or {}).items():
        class_id, nth = key.split()
        wanted.setdefault((class_id, int(nth)), {})["items"] = tuple(one(i) for i in items)
    for key, rolled in (hp or {}).items():
        class_id, nth = key.split()
        wanted.setdefault((class_id, int(nth)), {})["hp"] = rolled
    for (class_id, nth), data in wanted.items():
        levels.setdefault(class_id, {})[nth] = Line.model_validate(data)
    if isinstance(species, str):
        species = (species,)
    return Build(
        name=name,
        scores=Scores.model_validate(
            {"values": dict(zip(ABILITIES, map(int, scores.split()), strict=True)), "method": method}
        ),
        species=Origin(id=str(species[0]), items=tuple(one(i) for i in species[1:])) if species else None,
        background=Origin(name=str(background[0]), items=tuple(one(i) for i in background[1:])) if background else None,
        order=tuple(order),
        levels=levels,
        gear=tuple(pick(g) if isinstance(g, str) else g for g in gear),
    )


def at(document: Build, level: int | None = None, *states: str) -> Sheet:
    """The sheet at a level, the last one if none is named."""
    return sheet(document, catalog(), level or document.top, states)


def values(found: Sheet, *names: str) -> dict[str, object]:
    """The values of the named numbers; absent ones as None."""
    return {name: found.numbers[name].value if name in found.numbers else None for name in names}


def number(document: Build, name: str, level: int | None = None, *states: str) -> Number:
    """One number of a build."""
    return at(document, level, *states).numbers[name]


def of_list(class_id: str, level: int, first: int, last: int) -> str:
    """Spells of a class's list by level and place in the list, as one item's choices."""
    found = [s.id for s in catalog().spells_of(class_id) if s.level == level]
    return ", ".join(found[first:last])


def three_casters() -> Build:
    """A bard 6, wizard 8, ranger 6 with every choice made."""
    lines: dict[str, list[str | Item]] = {
        "bard 1": [
            "skill acrobatics, arcana, athletics",
            "tool lute, flute, drum",
            "cantrip vicious-mockery, dancing-lights",
            "spell " + of_list("bard", 1, 0, 4),
        ],
        "wizard 1": ["cantrip fire-bolt, light, mage-hand", "spell " + of_list("wizard", 1, 0, 6)],
        "ranger 1": ["skill survival", "enemy beasts", "terrain swamp"],
        "ranger 2": ["style archery", "spell hunters-mark, fog-cloud"],
        "ranger 3": ["spell longstrider", "prey colossus-slayer"],
        "ranger 4": ["+2 dex"],
        "ranger 5": ["spell spike-growth"],
    }
    for nth in range(2, 7):
        lines[f"bard {nth}"] = ["spell " + of_list("bard", min(3, (nth + 1) // 2), nth + 3, nth + 4)]
    for nth in range(2, 9):
        level = (nth + 1) // 2
        lines[f"wizard {nth}"] = ["spell " + of_list("wizard", level, 5, 7), "prepare " + of_list("wizard", 1, 0, nth)]
    lines["bard 3"] += ["expertise arcana, athletics", "skill history, insight, religion"]
    lines["bard 4"] += ["+2 cha", "cantrip minor-illusion"]
    lines["bard 6"] += ["secret fireball, haste"]
    lines["wizard 4"] += ["+2 int", "cantrip ray-of-frost"]
    lines["wizard 8"] += ["+2 int"]
    return build(
        "bard 6, wizard 8, ranger 6",
        "8 14 14 15 13 15",
        species=("half-elf", "+1 dex", "+1 int", "skill stealth, perception", "language goblin"),
        background=("Chart Copyist", "skill deception, nature", "language giant, gnomish"),
        gear=("leather-armor", "rapier", "shortbow", "2 dagger", "20 arrow", pick("cloak-of-protection", "attuned")),
        lines=lines,
        subclasses={"bard": "college-of-lore", "wizard": "school-of-evocation", "ranger": "hunter"},
    )
