"""Gear: proficiency with what is worn and wielded, attunement, weight, and what level 1 can have."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import chain, product
from math import prod
from typing import Final

from engine.audit.context import AuditContext
from engine.audit.finding import NO_SOURCE, Finding, finding
from engine.audit.words import counted, listing
from engine.rules.content import ClassContent, Item
from engine.rules.content.background import Background
from engine.rules.content.classes import StartingGear
from engine.rules.grants.body import Attunement, Size, SpeedUnburdened
from engine.sheet.gathered import Carried, Outfit

MOST_COMBINATIONS: Final = 512  # of alternatives of starting equipment; the release's own have 48 at most
MOST_OF_GROUPS: Final = 20
_COUNT: Final = re.compile(r"(?:(\d+) )?(.+)")


def _starts(ctx: AuditContext) -> Iterator[tuple[int, Outfit]]:
    """Yield each outfit with the first level of the build at which it is carried."""
    for outfit in ctx.gathered.outfits:
        if outfit.since <= max(1, ctx.build.top):
            yield max(1, outfit.since), outfit


def check_wearing(ctx: AuditContext) -> Iterable[Finding]:
    """What the release allows at a price: armor, shield or weapon without proficiency, armor without the Strength."""
    told: set[tuple[str, str]] = set()
    for level, outfit in _starts(ctx):
        for found in (*_armor(ctx, level, outfit), *_weapons(ctx, level, outfit)):
            if (found.code, found.subject) not in told:
                told.add((found.code, found.subject))
                yield found


def _armor(ctx: AuditContext, level: int, outfit: Outfit) -> Iterator[Finding]:
    for thing, code in ((outfit.armor, "armor-not-proficient"), (outfit.shield, "shield-not-proficient")):
        if thing is None or thing.item is None or thing.item.armor is None:
            continue
        body = thing.item.armor
        if not (_ids_of(thing.item) | {body.group}) & ctx.proficiencies(level).get("armor", frozenset()):
            yield finding(
                code,
                level,
                thing.name,
                f"{thing.name} is worn without proficiency, which gives disadvantage on Strength and Dexterity rolls"
                " and keeps spells from being cast; wear something else, or gain the proficiency.",
                ctx.catalog.rule("armor-proficiency"),
            )
        strength = ctx.score(level, "str")
        eased = (thing.item.magic is not None and thing.item.magic.unburdened) or any(
            isinstance(g.grant, SpeedUnburdened) for g in ctx.grants_at(level)
        )
        if body.strength is not None and strength is not None and strength < body.strength and not eased:
            loss = -ctx.catalog.release.armor_strength_speed
            yield finding(
                "armor-strength",
                level,
                thing.name,
                f"{thing.name} asks for Strength {body.strength} and the build has {strength}, which costs {loss} feet"
                " of speed; raise Strength, or wear lighter armor.",
                ctx.catalog.rule("armor-strength"),
            )


def _weapons(ctx: AuditContext, level: int, outfit: Outfit) -> Iterator[Finding]:
    for thing in outfit.weapons:
        item = thing.item
        if item is None or item.weapon is None or "carried" in thing.flags:
            continue
        if not (_ids_of(item) | {item.weapon.group}) & ctx.proficiencies(level).get("weapon", frozenset()):
            yield finding(
                "weapon-not-proficient",
                level,
                thing.name,
                f"{thing.name} is wielded without proficiency, so attacks with it add no proficiency bonus; choose"
                " another weapon, or gain the proficiency.",
                ctx.catalog.rule("weapon-proficiency"),
            )
        if "heavy" in item.weapon.properties and _small(ctx, level):
            yield finding(
                "heavy-weapon-small",
                level,
                thing.name,
                f"{thing.name} is heavy, and a Small creature attacks with it at disadvantage; choose a weapon that is"
                " not heavy.",
                ctx.catalog.rule("weapon-properties"),
            )
    main, shield = outfit.main, outfit.shield
    if shield is None or main is None or main.item is None or main.item.weapon is None:
        return
    if "two-handed" in main.item.weapon.properties or "two-handed" in main.flags:
        yield finding(
            "shield-with-two-hands",
            level,
            main.name,
            f"{main.name} takes both hands and {shield.name} one; they do not work together, so carry one of the two"
            " with `(carried)`.",
            ctx.catalog.rule("two-handed"),
        )


def _ids_of(item: Item) -> set[str]:
    """An item answers to proficiency by its own id and, if it is an enchantment of one thing, by that thing's."""
    return {item.id, item.plain_id, *item.groups}


def _small(ctx: AuditContext, level: int) -> bool:
    return any(isinstance(g.grant, Size) and g.grant.size in ("tiny", "small") for g in ctx.grants_at(level))


def check_magic(ctx: AuditContext) -> Iterable[Finding]:
    """Attunement: how many, to what, by whom; and that magic items come from the game master."""
    source = ctx.catalog.rule("attunement")
    told: set[str] = set()
    worst = 0
    for level, outfit in _starts(ctx):
        attuned = [thing for thing in outfit.carried if thing.attuned]
        limit = _attunement_limit(ctx, level)
        count = sum(thing.count for thing in attuned)
        if count > max(limit, worst):
            worst = count
            yield finding(
                "attunement-over-limit",
                level,
                "attunement",
                f"{count} items are attuned ({listing(thing.name for thing in attuned)}), and {limit} can be at once;"
                " end the attunement to some.",
                source,
            )
        for thing in outfit.carried:
            magic = thing.item.magic if thing.item is not None else None
            for found in _one_item(ctx, level, thing, outfit, source):
                if f"{found.code} {thing.key}" not in told:
                    told.add(f"{found.code} {thing.key}")
                    yield found
            if (magic is not None or thing.pick.bonus) and thing.key not in told and not _settled(ctx, thing):
                told.add(thing.key)
                yield finding(
                    "magic-item",
                    level,
                    thing.name,
                    f"{thing.name} is magic, and no rule of the release hands magic items out; the GM says whether this"
                    " build has it.",
                    ctx.catalog.rule("magic-items"),
                )


def _settled(ctx: AuditContext, thing: Carried) -> bool:
    """Whether the table's rules on magic items, or a gift of the game master, speak for themselves."""
    return "/item/" in thing.key or (ctx.table is not None and ctx.table.magic_items is not None)


def _attunement_limit(ctx: AuditContext, level: int) -> int:
    own = [g.grant.items for g in ctx.grants_at(level) if isinstance(g.grant, Attunement)]
    return max([ctx.catalog.release.attunement, *own])


def _one_item(ctx: AuditContext, level: int, thing: Carried, outfit: Outfit, source: str) -> Iterator[Finding]:
    magic = thing.item.magic if thing.item is not None else None
    if thing.attuned and (magic is None or not magic.attunement):
        yield finding(
            "attunement-not-needed",
            level,
            thing.name,
            f"{thing.name} takes no attunement; write it without `(attuned)`.",
            source,
        )
    if magic is None or not magic.attunement:
        return
    if thing.attuned and magic.attunement_by is not None:
        yield finding(
            "attunement-restricted",
            level,
            thing.name,
            f"Attuning to {thing.name} has a condition ({magic.attunement_by}); the GM says whether this build meets"
            " it.",
            ctx.catalog.source("item", thing.pick.id),
        )
    if not thing.attuned and any(thing is used for used in outfit.in_use):
        yield finding(
            "attunement-missing",
            level,
            thing.name,
            f"{thing.name} gives nothing until it is attuned; write `({'attuned'})` behind it, or `(carried)`.",
            source,
        )


def check_weight(ctx: AuditContext) -> Iterable[Finding]:
    """Weight against carrying capacity, and against the variant rule where the table plays by it."""
    if ctx.build.scores is None:
        return
    release = ctx.catalog.release
    worst: dict[str, bool] = {}
    for level, _ in _starts(ctx):
        weight, capacity = ctx.number(level, "carry.weight"), ctx.number(level, "carry.capacity")
        if weight is None or capacity is None or isinstance(weight.value, str) or isinstance(capacity.value, str):
            continue
        if weight.value > capacity.value and not worst.get("over"):
            worst["over"] = True
            yield finding(
                "over-capacity",
                level,
                "carrying",
                f"The gear weighs {weight.value:g} pounds and the build can carry {capacity.value:g}; leave something"
                " behind, or raise Strength.",
                ctx.catalog.rule("carrying"),
            )
        elif ctx.table is not None and ctx.table.encumbrance == "variant":
            light, heavy = (capacity.value * part / release.carry_per_strength for part in release.variant_encumbrance)
            if weight.value > light and not worst.get("slow"):
                worst["slow"] = True
                loss = 20 if weight.value > heavy else 10
                yield finding(
                    "encumbered",
                    level,
                    "carrying",
                    f"The gear weighs {weight.value:g} pounds, more than the {(heavy if loss == 20 else light):g} that"
                    f" this table's variant rule allows at full speed; it costs {loss} feet of speed until something is"
                    " left behind.",
                    ctx.catalog.rule("encumbrance"),
                )


def check_lost(ctx: AuditContext) -> Iterable[Finding]:
    """Gear that goes must have been there."""
    for picked in ctx.gathered.spare:
        if picked.keyword == "lose":
            name = ctx.catalog.name_of("item", picked.pick.id)
            yield finding(
                "gear-not-held",
                picked.level,
                name,
                f"{name} is given away, but the build does not carry {counted(picked.pick.count, 'of it', 'of it')} at"
                " that level; correct the name or number, or take the `lose` off.",
                NO_SOURCE,
            )


def check_starting(ctx: AuditContext) -> Iterable[Finding]:
    """Gear of level 1 beyond what the first class and the background print; less is the build's own affair."""
    if not ctx.build.order or not ctx.build.gear:
        return
    offered: list[StartingGear] = []
    class_ = ctx.gathered.classes.get(ctx.build.order[0])
    origin = ctx.build.background
    background = ctx.catalog.background(origin.id) if origin is not None and origin.id is not None else None
    owners: list[ClassContent | Background] = [o for o in (class_, background) if o is not None]
    for owner in owners:
        offered += owner.starting_gear
    if class_ is None or not class_.starting_gear:
        return
    carried = Counter[str]()
    for pick in ctx.build.gear:
        item = ctx.catalog.item(pick.id)
        # What no folio gives and what is magic is told elsewhere.
        if item is not None and item.magic is None and not pick.bonus:
            carried[item.id] += pick.count
    over = _beyond(ctx, carried, offered)
    if over:
        names = listing(_shown(ctx, id_, n) for id_, n in over.items())
        yield finding(
            "starting-gear",
            1,
            "gear",
            f"The gear of level 1 goes beyond the starting equipment of {listing(o.name for o in owners)}: {names}; it"
            " must be bought or given.",
            "; ".join(
                ctx.class_source(o.id, "Equipment")
                if isinstance(o, ClassContent)
                else ctx.catalog.source("background", o.id, "Equipment")
                for o in owners
            ),
        )


def _shown(ctx: AuditContext, id_: str, count: int) -> str:
    name = ctx.catalog.name_of("item", id_)
    return name if count == 1 else f"{count} {name}"


def _beyond(ctx: AuditContext, carried: Counter[str], offered: list[StartingGear]) -> Counter[str]:
    """Return what is left of the gear after the alternatives of starting equipment that leave least of it."""
    # Row by row, each its most fitting alternative: quick, and right for nearly everybody.
    left = carried
    for row in offered:
        left = min((_taken(ctx, left, option) for option in row.options), key=Counter.total)
    if not left or prod(len(row.options) for row in offered) > MOST_COMBINATIONS:
        return left
    combinations = product(*(row.options for row in offered))
    return min((_taken(ctx, carried, tuple(chain(*each))) for each in combinations), key=Counter.total)


def _taken(ctx: AuditContext, carried: Counter[str], entries: tuple[str, ...]) -> Counter[str]:
    """Return the gear without what the entries name: first the things themselves, then one for each of a group."""
    left = Counter(carried)
    groups: list[str] = []
    for entry in entries:
        count, id_ = _parse(entry)
        item = ctx.catalog.item(id_)
        if item is None:
            groups += [id_.removeprefix("any-")] * min(count, MOST_OF_GROUPS - len(groups))
            continue
        for content in (entry, *item.contents):
            inner, inner_id = _parse(content)
            left[inner_id] -= min(left[inner_id], inner * (1 if content == entry else count))
    left = +left
    if groups:
        things = [id_ for id_, held in left.items() for _ in range(min(held, len(groups)))]
        left.subtract(_of_groups(ctx, things, groups))
    return +left


def _of_groups(ctx: AuditContext, things: list[str], groups: list[str]) -> list[str]:
    """Return the things that stand for groups, as many as can (each for one group: a maximum matching)."""
    holder: dict[int, int] = {}

    def place(group: int, seen: set[int]) -> bool:
        for at, id_ in enumerate(things):
            if at not in seen and in_group(ctx.catalog.item(id_), groups[group]):
                seen.add(at)
                if at not in holder or place(holder[at], seen):
                    holder[at] = group
                    return True
        return False

    for group in range(len(groups)):
        place(group, set())
    return [things[at] for at in holder]


def _parse(entry: str) -> tuple[int, str]:
    match = _COUNT.fullmatch(entry)
    return (int(match[1] or 1), match[2]) if match else (1, entry)


def in_group(item: Item | None, group: str) -> bool:
    """Tell whether an item is one of a group that starting equipment names, such as `simple-melee-weapon`."""
    if item is None:
        return False
    if group in item.groups or group == item.id:
        return True
    weapon = item.weapon
    if weapon is None or not group.endswith("weapon"):
        return False
    words = set(group.split("-")) - {"weapon"}
    return words <= {weapon.group, weapon.reach} and item.magic is None
