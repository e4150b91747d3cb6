"""Spells, creatures and items: their figures as short lines."""

from collections.abc import Mapping
from typing import Any

from engine.publish.facts.formulas import Speaker
from engine.publish.facts.grants import names_of
from engine.rules.catalog import Catalog, Named
from engine.rules.content import Area, Creature, Item, Scaling, Spell, SpellDamageDice
from engine.rules.crafting import crafting
from engine.rules.words import ABILITY_NAMES

_ORDINALS = ("cantrip", "1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th", "9th")
_COINS = ((100, "gp"), (10, "sp"), (1, "cp"))


def _lines(*pairs: tuple[str, object]) -> tuple[str, ...]:
    return tuple(f"{label}: {value}" for label, value in pairs if value not in (None, "", ()))


# -- spells -------------------------------------------------------------------------------------------------------


def spell_facts(named: Named, catalog: Catalog) -> tuple[str, tuple[str, ...]]:
    """Return the first line and the other facts of a spell."""
    spell = named.entry
    assert isinstance(spell, Spell)
    s = Speaker(catalog)
    rank = f"{spell.school} cantrip" if spell.level == 0 else f"{_ORDINALS[spell.level]}-level {spell.school}"
    components = ", ".join(spell.components)
    if spell.cost_gp is not None:
        components += f" (material worth {spell.cost_gp:,} gp{', used up' if spell.consumed else ''})"
    lists = [n.name for n in catalog.every("class") if catalog.on_list(spell, n.id)]
    save = ""
    if spell.save is not None:
        left = {
            "half": ", half on a success",
            "none": ", nothing on a success",
            "other": ", something else on a success",
        }
        save = f"{ABILITY_NAMES[spell.save]}{left.get(spell.on_save or '', '')}"
    damage = "; ".join(_damage(part, s) for part in spell.damage)
    return rank, _lines(
        ("ritual", "yes" if spell.ritual else ""),
        ("casting time", spell.casting_time),
        ("range", spell.range),
        ("area", _area(spell.area) if spell.area is not None else ""),
        ("components", components),
        ("duration", f"{'concentration, ' if spell.concentration else ''}{spell.duration}"),
        ("attack", f"{spell.attack} spell attack" if spell.attack else ""),
        ("save", save),
        ("damage", damage),
        ("takes out", _ends(spell)),
        ("healing", (spell.healing or "").replace("MOD", "casting modifier")),
        ("rolls or darts", spell.beams if spell.beams != 1 else ""),
        ("more", "; ".join(_scaled(step, s) for step in spell.scaling)),
        ("lists", ", ".join(lists)),
    )


def _ends(spell: Spell) -> str:
    ends = spell.ends
    if ends is None:
        return ""
    what = f"{ends.pool} hit points of creatures" if ends.pool else f"creatures of at most {ends.limit} hit points"
    spared = [*(f"of type {each}" for each in ends.spares), *(f"immune to being {each}" for each in ends.immune)]
    return f"{what}; not those {' or '.join(spared)}" if spared else what


def _damage(part: SpellDamageDice, s: Speaker) -> str:
    types = part.types or ((part.type,) if part.type else ())
    kind = " or ".join(names_of((each,), s, "damage-type").lower() for each in types)
    note = f"({part.note})" if part.note else ""
    return " ".join(word for word in (part.dice.replace("MOD", "casting modifier"), kind, note) if word)


def _area(area: Area) -> str:
    unit = "square feet" if area.shape == "surface" else "feet"
    more = [
        f"{area.height} feet high" if area.height else "",
        f"{area.width} feet wide" if area.width else "",
        f"{area.count} of them" if area.count != 1 else "",
    ]
    return ", ".join([f"{area.shape} of {area.feet} {unit}", *(part for part in more if part)])


def _scaled(step: Scaling, s: Speaker) -> str:
    if step.dice is None and step.count is None:
        return step.note or ""
    kind = names_of((step.type,), s, "damage-type").lower() if step.type else ""
    told = " ".join(part for part in (step.dice or f"{step.count}", kind) if part)
    if step.by == "character-level":
        return " ".join(part for part in (told, step.note or "", f"from level {step.from_}") if part)
    note = f" ({step.note})" if step.note else ""
    levels = "slot level" if step.every == 1 else f"{step.every} slot levels"
    return f"{told} more{note} for each {levels} from {_ORDINALS[step.from_]} on"


# -- creatures ----------------------------------------------------------------------------------------------------


def creature_facts(named: Named, catalog: Catalog) -> tuple[str, tuple[str, ...]]:
    """Return the first line and the stat line of a creature."""
    c = named.entry
    assert isinstance(c, Creature)
    s = Speaker(catalog)
    tags = f" ({', '.join(c.tags)})" if c.tags else ""
    kind = names_of((c.type,), s, "creature-type").lower()
    first = f"{c.size} {kind}{tags}, challenge {c.challenge} ({c.xp:,} XP)"
    otherwise = "".join(
        f", {ac} with {names_of((why,), s, 'spell', 'item').lower()}" for why, ac in c.ac_otherwise.items()
    )
    passive = f"passive Perception {c.passive_perception}"
    scores = ", ".join(f"{a.capitalize()} {n} ({_signed((n - 10) // 2)})" for a, n in c.scores.items())
    return first, _lines(
        ("alignment", c.alignment),
        ("armor class", f"{c.ac}{otherwise}"),
        ("hit points", f"{c.hp} ({c.hp_dice})"),
        ("speed", ", ".join(f"{mode} {feet}" for mode, feet in c.speeds.items()) + (" (hovers)" if c.hover else "")),
        ("scores", scores),
        ("saves", _bonuses(c.saves, s)),
        ("skills", _bonuses(c.skills, s)),
        ("senses", ", ".join([*(f"{k} {v}" for k, v in c.senses.items()), passive])),
        ("best attack", f"{_signed(c.attack)} to hit" if c.attack is not None else ""),
        ("vulnerable to", ", ".join(c.vulnerabilities)),
        ("resistant to", ", ".join(c.resistances)),
        ("immune to", ", ".join(c.immunities)),
        ("cannot be", names_of(c.condition_immunities, s, "condition").lower()),
        ("magic resistance", "yes" if c.magic_resistance else ""),
        ("legendary resistance", f"{c.legendary_resistance} a day" if c.legendary_resistance else ""),
        ("other shape of", catalog.name_of("creature", c.form_of) if c.form_of else ""),
    )  # fmt: skip


def _bonuses(bonuses: Mapping[Any, int], s: Speaker) -> str:
    return ", ".join(f"{names_of((id_,), s, 'skill')} {_signed(bonus)}" for id_, bonus in bonuses.items())


def _signed(bonus: int) -> str:
    return f"+{bonus}" if bonus >= 0 else f"−{-bonus}"


# -- items --------------------------------------------------------------------------------------------------------


def item_facts(named: Named, catalog: Catalog) -> tuple[str, tuple[str, ...]]:
    """Return the first line and the facts of an item; what its features give is not among them."""
    item = named.entry
    assert isinstance(item, Item)
    s = Speaker(catalog)
    first: list[str] = [item.category if item.category != "magic" else "magic item"]
    lines: list[tuple[str, object]] = []
    if item.weapon is not None:
        w = item.weapon
        first = [f"{w.group} {w.reach} weapon"]
        kind = names_of((w.damage,), s, "damage-type").lower() if w.damage else ""
        lines += [
            ("damage", f"{w.die} {kind}".strip() if w.die else "none"),
            ("in two hands", w.versatile),
            ("properties", ", ".join(w.properties)),
            ("range", f"{w.range[0]}/{w.range[1]} feet" if w.range else ""),
        ]
    if item.armor is not None:
        a = item.armor
        first = ["shield" if a.group == "shield" else f"{a.group} armor"]
        cap = "" if a.dex_cap is None else f" (at most {a.dex_cap})"
        dex = "" if a.group == "shield" or a.dex_cap == 0 else f" + Dexterity modifier{cap}"
        lines += [
            ("armor class", f"+{a.ac}" if a.group == "shield" else f"{a.ac}{dex}"),
            ("Strength needed", a.strength),
            ("Stealth", "disadvantage" if a.stealth_disadvantage else ""),
            ("metal", "yes" if a.metal else ""),
        ]
    if item.magic is not None:
        m = item.magic
        first.append(f"{m.rarity.replace('-', ' ')} {m.kind}")
        by = f" by {m.attunement_by}" if m.attunement_by else ""
        lines += [
            ("attunement", f"needed{by}" if m.attunement else ""),
            ("Strength and Stealth", "neither hinders" if m.unburdened else ""),
        ]
    pieces = f" for {item.bundle}" if item.bundle != 1 else ""
    lines += [
        ("made of", catalog.name_of("item", item.base) if item.base else ""),
        ("cost", f"{_coins(item.cost_cp)}{pieces}" if item.cost_cp is not None else ""),
        ("crafting", _crafting(item, catalog)),
        ("weight", f"{item.weight:g} lb.{pieces}" if item.weight is not None else ""),
        ("contents", ", ".join(_content(text, catalog) for text in item.contents)),
        ("speed", item.speed),
        ("carries", item.capacity),
        ("belongs to", ", ".join(g.replace("-", " ") for g in item.groups)),
    ]
    if item.cost_cp is None and item.weight is None:
        lines.append(("cost and weight", "not printed for it alone"))
    return ", ".join(first), _lines(*lines)


def _crafting(item: Item, catalog: Catalog) -> str:
    found = crafting(item, catalog.release)
    if found is None:
        return ""
    days = f"{found.days:,} days of one pair of hands" if found.days > 1 else "a day or less"
    return f"{days}, {_coins(found.materials_cp)} of materials"


def _content(text: str, catalog: Catalog) -> str:
    count, _, id_ = text.rpartition(" ")
    name = catalog.name_of("item", id_)
    return f"{count} × {name}" if count else name


def _coins(copper: int) -> str:
    for worth, coin in _COINS:
        if copper >= worth and copper % worth == 0:
            return f"{copper // worth:,} {coin}"
    return f"{copper} cp"
