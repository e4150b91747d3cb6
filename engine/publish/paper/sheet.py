"""What stands on a sheet: everything in words and in the order of the paper, as plain data for the template."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final

from engine.audit.context import AuditContext
from engine.audit.open import open_choices
from engine.build.document import Build
from engine.build.outline import print_level
from engine.publish.words import ORDINALS, ability, called, capital, content, listed, shown, still_open
from engine.rules.catalog import Catalog
from engine.rules.content import Feature, Spell
from engine.rules.words import ABILITIES, UNLIMITED
from engine.sheet import Sheet
from engine.sheet.gather import gather
from engine.sheet.number import Number
from engine.sheet.plan import Plan
from engine.sheet.spells import spells_at
from engine.sheet.whole import at_level

# More boxes than this are no help to tick; the number alone stands there.
MOST_BOXES: Final = 20
MOST_OPTIONS: Final = 8
_KINDS: Final = (
    ("armor", "Armor", ("armor-group", "item")),
    ("weapon", "Weapons", ("weapon-group", "item")),
    ("tool", "Tools", ("tool", "item")),
    ("language", "Languages", ("language",)),
)
_OWNER_KINDS: Final = ("class", "subclass", "choice-list", "feat", "species", "background")
RESTORED: Final = {
    "short-rest": "short rest",
    "long-rest": "long rest",
    "dawn": "dawn",
    "day": "day",
}


def sheet_data(build: Build, catalog: Catalog, level: int, states: Iterable[str] = ()) -> dict[str, Any]:
    """Return the data of a sheet: texts, and numbers as they are printed.

    states: ids of states that are switched on; they change numbers and notes, and are named on the sheet.

    Raises: ValueError for a level that the build does not have.
    """
    if not 1 <= level <= build.top:
        raise ValueError(f"the build has levels 1 to {build.top}; {level} is none of them")
    ctx = AuditContext.of(build, catalog)
    on = tuple(states)
    # Of one level: making all of them would cost more than the rest of the data.
    sheet = at_level(Plan(gather(build, catalog, on) if on else ctx.gathered), level)
    numbers = sheet.numbers
    return {
        "name": build.name,
        "concept": build.concept or "",
        "level": level,
        "classes": classes(build, catalog, level),
        "origin": " · ".join(_origins(build, catalog)),
        "rules": catalog.folios[0].title,
        "unfinished": capital(still_open(ctx, level)),
        "states": [content(catalog, ("state", "condition"), id_) for id_ in on],
        "abilities": [
            {
                "name": ability(each),
                "score": _value(sheet, f"ability.{each}.score"),
                "modifier": _value(sheet, f"ability.{each}.modifier"),
                "save": _value(sheet, f"save.{each}"),
                "trained": _trained(numbers[f"save.{each}"]),
            }
            for each in ABILITIES
        ],
        "body": [
            {"name": name, "value": _value(sheet, number)}
            for name, number in (
                ("Armor class", "ac"),
                ("Initiative", "initiative"),
                ("Proficiency bonus", "proficiency_bonus"),
                ("Passive Perception", "skill.perception.passive"),
            )
        ],
        "hp": _value(sheet, "hp.max"),
        "hit_dice": [
            {"die": name.partition(".")[2], "count": int(number.value)}
            for name, number in numbers.items()
            if name.startswith("hit_dice.") and isinstance(number.value, int)
        ],
        "speeds": _speeds(sheet),
        "senses": [f"{name.partition('.')[2]} {shown(name, n.value)} feet" for name, n in _some(sheet, "senses.")],
        "skills": [
            {
                "name": content(catalog, ("skill",), skill.id),
                "ability": skill.ability.capitalize(),
                "value": _value(sheet, f"skill.{skill.id}"),
                "trained": _times(numbers[f"skill.{skill.id}"]),
            }
            for skill in sorted(catalog.release.skills, key=lambda s: s.name)
        ],
        "proficiencies": list(_proficiencies(ctx, level)),
        "attacks": list(_attacks(sheet, catalog)),
        "per_action": _value(sheet, "attacks.per_action"),
        "casting": list(_casting(sheet, catalog)),
        "slots": [
            {"name": f"{order} level", "count": int(numbers[f"slots.{n}"].value)}
            for n, order in enumerate(ORDINALS, 1)
            if numbers[f"slots.{n}"].value
        ]
        + _pact(sheet),
        "spells": list(_spells(ctx, level)),
        "pools": list(_pools(ctx, sheet)),
        "notes": [{"label": n.label, "text": n.text} for n in sheet.notes],
        "features": list(_features(ctx, level)),
        "gear": list(_gear(ctx, level)),
        "weight": _value(sheet, "carry.weight"),
        "capacity": _value(sheet, "carry.capacity"),
        "own_notes": list(build.notes),
        "next": list(_next(build, catalog, level)),
        "attribution": attribution(catalog),
    }


def classes(build: Build, catalog: Catalog, level: int) -> str:
    """Return `Rogue 4 (Thief), Ranger 4 (Hunter)`."""
    chosen = {class_id: line.subclass for at, class_id, _, line in build.lines() if at <= level and line.subclass}
    words = []
    for class_id, held in build.class_levels(level).items():
        subclass = f" ({catalog.name_of('subclass', chosen[class_id])})" if class_id in chosen else ""
        words.append(f"{catalog.name_of('class', class_id)} {held}{subclass}")
    return ", ".join(words)


def attribution(catalog: Catalog) -> str:
    """Return what the licences of the folios ask for, on one line."""
    owed = dict.fromkeys(" ".join(folio.header.attribution.split()) for folio in catalog.folios)
    return " ".join([*owed, "Facts were put into our own words; changes were made."])


def _value(sheet: Sheet, name: str) -> str:
    number = sheet.numbers.get(name)
    return shown(name, number.value) if number is not None else "–"


def _some(sheet: Sheet, prefix: str) -> Iterator[tuple[str, Number]]:
    return ((name, number) for name, number in sheet.numbers.items() if name.startswith(prefix))


def _trained(number: Number) -> bool:
    return any(reason.label.startswith("proficiency bonus") for reason in number.reasons)


def _times(number: Number) -> int:
    """Return 0 for an untrained skill, 1 for a trained one, 2 with expertise."""
    if not _trained(number):
        return 0
    return 2 if any(reason.label.startswith("expertise") for reason in number.reasons) else 1


def _origins(build: Build, catalog: Catalog) -> Iterator[str]:
    if build.species is not None and build.species.id is not None:
        yield catalog.name_of("species", build.species.id)
    if build.background is not None:
        yield build.background.name or catalog.name_of("background", build.background.id or "")


def _speeds(sheet: Sheet) -> str:
    words = [
        f"{_value(sheet, name)} feet" if name == "speed.walk" else f"{name.partition('.')[2]} {_value(sheet, name)}"
        for name, number in _some(sheet, "speed.")
        if number.value or name == "speed.walk"
    ]
    return ", ".join(words)


def _proficiencies(ctx: AuditContext, level: int) -> Iterator[dict[str, str]]:
    held = ctx.proficiencies(level)
    for kind, title, kinds in _KINDS:
        ids = held.get(kind, frozenset())
        names = sorted(content(ctx.catalog, kinds, id_) for id_ in ids if not _covered(ctx, id_, ids))
        if names:
            yield {"name": title, "text": ", ".join(names)}


def _covered(ctx: AuditContext, id_: str, ids: frozenset[str]) -> bool:
    """Tell whether a weapon belongs to a group that the build is proficient in as a whole."""
    item = ctx.catalog.item(id_)
    return item is not None and item.weapon is not None and item.weapon.group in ids


def _attacks(sheet: Sheet, catalog: Catalog) -> Iterator[dict[str, str]]:
    for name, number in sheet.numbers.items():
        if not name.endswith(".to_hit"):
            continue
        stem = name.removesuffix(".to_hit")
        damage = sheet.numbers.get(f"{stem}.damage")
        dice = (
            (damage.dice or f"{damage.value:g}" if not isinstance(damage.value, str) else damage.value)
            if damage
            else ""
        )
        yield {
            "name": called(name, catalog).removesuffix(" to hit"),
            "to_hit": shown(name, number.value),
            "damage": dice,
        }


def _casting(sheet: Sheet, catalog: Catalog) -> Iterator[dict[str, str]]:
    for name, number in sheet.numbers.items():
        if name.startswith("casting.") and name.endswith(".save_dc"):
            owner = name.split(".")[1]
            counts = [
                f"{word} {_value(sheet, f'casting.{owner}.{key}')}"
                for key, word in (("cantrips", "cantrips"), ("known", "known"), ("prepared", "prepared"))
                if f"casting.{owner}.{key}" in sheet.numbers
            ]
            yield {
                "name": content(catalog, ("class", "species", "feat", "item"), owner),
                "dc": shown(name, number.value),
                "attack": _value(sheet, f"casting.{owner}.attack"),
                "counts": ", ".join(counts),
            }


def _pact(sheet: Sheet) -> list[dict[str, Any]]:
    count, level = sheet.numbers["pact.slots"].value, sheet.numbers["pact.slot_level"].value
    if not isinstance(count, int) or not isinstance(level, int) or not count:
        return []
    return [{"name": f"Pact, {ORDINALS[level - 1]} level", "count": count}]


def _spells(ctx: AuditContext, level: int) -> Iterator[dict[str, str]]:
    by_level: dict[int, list[str]] = {}
    for learned in spells_at(ctx.gathered, level):
        spell = ctx.catalog.spell(learned.spell)
        if isinstance(spell, Spell):
            by_level.setdefault(spell.level, []).append(spell.name)
    for of, names in sorted(by_level.items()):
        yield {"name": "Cantrips" if of == 0 else f"{ORDINALS[of - 1]} level", "text": ", ".join(names)}


def _pools(ctx: AuditContext, sheet: Sheet) -> Iterator[dict[str, Any]]:
    restored = {g.grant.id: str(g.grant.restored) for g in ctx.grants_at(sheet.level) if g.grant.kind == "pool"}
    for name, number in _some(sheet, "pool."):
        if not name.endswith(".uses") or not number.value:
            continue
        pool = name.split(".")[1]
        die = sheet.numbers.get(f"pool.{pool}.die")
        boxes = number.value if isinstance(number.value, int) and number.value <= MOST_BOXES else 0
        rest = RESTORED.get(restored.get(pool, ""), restored.get(pool, "").replace("-", " "))
        yield {
            "name": content(ctx.catalog, ("feature",), pool),
            "uses": "no limit" if number.value == UNLIMITED else f"{number.value}",
            "unit": "" if number.unit == "uses" or number.value == UNLIMITED else number.unit,
            "die": f"{die.value}" if die is not None else "",
            "rest": rest,
            "boxes": boxes,
        }


def _features(ctx: AuditContext, level: int) -> Iterator[dict[str, str]]:
    """Yield the features that hold, in the order of what gives them, each with our own short line."""
    seen: set[str] = set()
    owners = _owners(ctx, level)
    every = [named for named in ctx.catalog.every("feature") if named.owner in owners]
    every.sort(key=lambda named: _OWNER_KINDS.index(named.owner[0]) if named.owner else 0)
    for named in every:
        feature = named.entry
        if not isinstance(feature, Feature) or feature.id in seen or not ctx.gathered.has(feature.id, level):
            continue
        seen.add(feature.id)
        text = feature.summary or feature.no_number
        if text and not _answered(ctx, feature):
            yield {"name": feature.name, "text": text[:1].upper() + text[1:]}


def _answered(ctx: AuditContext, feature: Feature) -> bool:
    """Tell whether a feature does nothing but ask for a choice that stands on the sheet already."""
    titles = {class_.subclass_title for class_ in ctx.gathered.classes.values()}
    asks = [grant for grant in feature.grants if grant.kind == "choice"]
    return feature.name in titles or (bool(asks) and len(asks) == len(feature.grants))


def _owners(ctx: AuditContext, level: int) -> set[tuple[str, str] | None]:
    build, catalog = ctx.build, ctx.catalog
    owners: set[tuple[str, str] | None] = {("class", id_) for id_ in build.class_levels(level)}
    owners |= {("subclass", line.subclass) for at, _, _, line in build.lines() if at <= level and line.subclass}
    if build.species is not None and build.species.id is not None:
        owners.add(("species", build.species.id))
        species = catalog.species(build.species.id)
        if species is not None and species.of is not None:
            owners.add(("species", species.of))
    if build.background is not None and build.background.id is not None:
        owners.add(("background", build.background.id))
    owners |= {("feat", p.pick.id) for p in ctx.gathered.picked if p.keyword == "feat" and p.level <= level}
    owners |= {named.owner for named in catalog.every("feature") if named.owner and named.owner[0] == "choice-list"}
    return owners


def _gear(ctx: AuditContext, level: int) -> Iterator[str]:
    outfit = ctx.gathered.outfit(level)
    for thing in outfit.carried:
        count = f"{thing.count} × " if thing.count > 1 else ""
        flags = [flag.replace("-", " ") for flag in sorted(thing.flags) if flag != "custom"]
        if thing in (outfit.armor, outfit.shield):
            flags.insert(0, "worn")
        yield f"{count}{thing.name}" + (f" ({', '.join(flags)})" if flags else "")


def _next(build: Build, catalog: Catalog, level: int) -> Iterator[str]:
    """Yield what is due at the next level: what the build plans, or what is open to choose."""
    if level >= 20:
        return
    if level < build.top:
        yield print_level(build, level + 1, catalog).partition(" ")[2]
        return
    for choice in open_choices(build, catalog, level + 1):
        names = [option.name for option in choice.options]
        some = f": {listed(names, 'or')}" if 0 < len(names) <= MOST_OPTIONS else ""
        plural = "s" if choice.count > 1 else ""
        yield f"{choice.label}: {choice.count} {choice.noun}{plural} to choose{some}"
