"""Folio srd-5.1 beside a figure file: for each record of the figures, its cells and what the folio says there.

A function of `FILES` takes the records of one source (by the text's ids) and yields (id, field, figure, folio's value);
what only one of both has comes under the field `record`. Values are made comparable here and nowhere else; fields that
the folio has no place for are left out by name. Figures: tests/reference, read by scripts from the rules text and from
the open data set.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, Final

from engine.rules.catalog import Catalog
from engine.rules.content import Creature, Item, Spell
from engine.rules.grants import AnyGrant
from engine.rules.names import slug
from engine.rules.words import ABILITIES
from engine.store.folio_files import load_shipped
from tests.engine.rules import test_classes as classes
from tests.engine.rules import test_creatures as creatures
from tests.engine.rules import test_items as items
from tests.engine.rules import test_spells as spells
from tests.reference.compare import ABSENT, ALIASES, cells_of
from tests.reference.figures import CLASSES, DATA_FOLDER, TEXT_FOLDER, Record, read

Cells = dict[str, Any]
Row = tuple[str, str, Any, Any]
CATALOG: Final = Catalog([load_shipped("srd-5.1")])


def by_text_id(file: str, records: Mapping[str, Record]) -> dict[str, Cells]:
    """Return the comparable cells of a source's records, under the ids that the text has."""
    names = ALIASES.get(file, {})
    back = {theirs: ours for ours, theirs in names.items()}
    return {
        back.get(id_, id_): cells_of(file, record, drop_name=id_ in back or id_ in names)
        for id_, record in records.items()
    }


def _beside(id_: str, figures: Cells, folio: Cells, without: Iterable[str] = ()) -> Iterator[Row]:
    for field in sorted((figures.keys() | folio.keys()) - set(without)):
        yield id_, field, figures.get(field, ABSENT), folio.get(field, ABSENT)


def _missing(ours: Iterable[str], theirs: Iterable[str]) -> Iterator[Row]:
    """Records that only one side has."""
    mine, other = set(ours), set(theirs)
    for id_ in sorted(mine ^ other):
        yield (id_, "record", *(("present", ABSENT) if id_ in other else (ABSENT, "present")))


def _name(kind: str, figures: Cells, id_: str) -> Cells:
    """The figure's own name if it has the words of the folio's, in whatever order, else the folio's."""
    if "name" not in figures:
        return {}
    folio = CATALOG.name_of(kind, id_).casefold()
    return {"name": figures["name"] if _words(figures["name"]) == _words(folio) else folio}


def _words(name: str) -> set[str]:
    return set(slug(name).split("-")) - {"form"}


# -- classes ----------------------------------------------------------------------------------------------------


def _levels(records: Mapping[str, Record]) -> Iterator[Row]:
    cells = by_text_id("levels", records)
    yield from _missing({f"{c}-{n}" for c in CLASSES for n in range(1, 21)}, cells)
    for class_id in CLASSES:
        features, seen = classes.features_of(CATALOG, class_id), set[str]()
        own = classes.class_of(CATALOG, class_id).features
        for level in range(1, 21):
            id_ = f"{class_id}-{level}"
            figures = cells.get(id_, {})
            printed = {PRINTED.get(name, name) for name in figures.pop("features", ())}
            printed = {name for name in printed if not classes.SUBCLASS_GIVES.fullmatch(name)}
            printed = {name if name in features else classes.ADDED.sub("", name) for name in printed} - seen
            seen |= printed
            given = {f.id for f in own if f.level == level and f.id not in UNPRINTED.get(class_id, ())}
            yield id_, "features", sorted(printed), sorted(given)
            for field, value in figures.items():
                if field in ("class", "level"):
                    continue
                if field.startswith("slots."):
                    place = int(field.partition(".")[2])
                    yield id_, field, value, classes.figure(CATALOG, class_id, "slots", level)[place - 1]
                else:
                    yield id_, field, value, classes.figure(CATALOG, class_id, field, level)


# `compare` takes the word `improvement` off; Signature Spell is headed Signature Spells (reference NOTES, A14).
PRINTED: Final = {"ability-score": "ability-score-improvement", "signature-spell": "signature-spells"}
# Parts of a feature that the class tables print once. SRD 5.1, Classes: Monk, Ki; Cleric, Channel Divinity; Paladin,
# Sacred Oath.
UNPRINTED: Final[dict[str, set[str]]] = {
    "cleric": {"channel-divinity-turn-undead"},
    "monk": {"flurry-of-blows", "patient-defense", "step-of-the-wind"},
    "paladin": {"channel-divinity"},
}


def _classes(records: Mapping[str, Record]) -> Iterator[Row]:
    yield from _missing(CLASSES, records)
    for id_, record in records.items():
        content = classes.class_of(CATALOG, id_)
        picks = [classes.CHOSEN_TOOLS[t] for t in record["tools"] if t in classes.CHOSEN_TOOLS]
        figures = {
            "hit_die": record["hit_die"],
            "armor": classes.ALL_ARMOR if "all-armor" in record["armor"] else _singular(record["armor"]),
            "weapons": _singular(record["weapons"]),
            "tools": (picks, {t for t in record["tools"] if t not in classes.CHOSEN_TOOLS}),
            "saves": record["saves"],
            "skill_count": record["skill_count"],
            "skills": set() if record["skills"] == "any" else set(record["skills"]),
            "casting_ability": record["casting_ability"],
        }
        ((count, skills),) = classes.chosen(content.start, "skill")
        casting = [g.ability for f in content.features for g in f.grants if g.kind == "spellcasting"]
        folio = {
            "hit_die": content.hit_die,
            "armor": classes.trained(content.start, "armor"),
            "weapons": classes.trained(content.start, "weapon"),
            "tools": (classes.chosen(content.start, "tool"), classes.trained(content.start, "tool")),
            "saves": sorted(content.saves),
            "skill_count": count,
            "skills": skills,
            "casting_ability": casting[0] if casting else None,
        }
        yield from _beside(id_, figures, folio)
        if "fixed_hit_points" in record:  # printed in the text only: SRD 5.1, Classes, Hit Points at Higher Levels
            yield id_, "first_hit_points", record["first_hit_points"], content.hit_die
            yield id_, "fixed_hit_points", record["fixed_hit_points"], content.hit_die // 2 + 1


def _singular(names: Iterable[str]) -> set[str]:
    return {classes.singular(name) for name in names}


def _multiclass(records: Mapping[str, Record]) -> Iterator[Row]:
    yield from _missing(CLASSES, records)
    for id_, record in records.items():
        content = classes.class_of(CATALOG, id_)
        gains: tuple[AnyGrant, ...] = content.multiclass.grants
        needs = dict(content.multiclass.any_of or content.multiclass.all_of)
        ((_, skills),) = classes.chosen(content.start, "skill")
        plain = {g for g in record["gains"] if not g.startswith("one-")}
        words = {"one-skill-of-your-choice": set[str](), "one-skill-from-the-classs-skill-list": skills}
        figures = {
            "needs": dict(record["needs"]),
            "any_of": record["any_of"],
            "gains": {g if g == "thieves-tools" else classes.singular(g) for g in plain},
            "gained_skills": [(1, words[g]) for g in record["gains"] if g in words],
            "gained_tools": [classes.CHOSEN_TOOLS[g] for g in record["gains"] if g in classes.CHOSEN_TOOLS],
        }
        folio = {
            "needs": needs,
            "any_of": bool(content.multiclass.any_of),
            "gains": set().union(*(classes.trained(gains, kind) for kind in ("armor", "weapon", "tool"))),
            "gained_skills": classes.chosen(gains, "skill"),
            "gained_tools": classes.chosen(gains, "tool"),
        }
        yield from _beside(id_, figures, folio)


def _starting_equipment(records: Mapping[str, Record]) -> Iterator[Row]:
    yield from _missing(CLASSES, records)
    for id_, record in records.items():
        lines = classes.class_of(CATALOG, id_).starting_gear
        figures = {
            "fixed": sorted(classes.bundle(record["fixed"])),
            "choices": sorted(sorted(classes.bundle(option) for option in options) for options in record["choices"]),
        }
        folio = {
            "fixed": sorted(thing for line in lines if len(line.options) == 1 for thing in line.options[0]),
            "choices": sorted(
                sorted(tuple(sorted(o)) for o in line.options) for line in lines if len(line.options) > 1
            ),
        }
        yield from _beside(id_, figures, folio)


def _subclass_features(records: Mapping[str, Record]) -> Iterator[Row]:
    short = {own: name for name, own in classes.SUBCLASS_IDS.items()}
    folio: dict[str, Cells] = {}
    for class_id in CLASSES:
        for subclass in CATALOG.subclasses(class_id):
            for feature in subclass.features:
                if feature.id not in classes.SPELL_FEATURES:
                    name = short[subclass.id]
                    folio[f"{name}-{feature.id}"] = {"class": class_id, "subclass": name, "level": feature.level}
    yield from _missing(folio, records)
    for id_ in folio.keys() & records.keys():
        yield from _beside(id_, {k: v for k, v in records[id_].items() if k != "id"}, folio[id_])


def _subclass_spells(records: Mapping[str, Record]) -> Iterator[Row]:
    """Lists by level of the class; the Fiend's, which widens the list to choose from, by level of the spells."""
    lands = CATALOG.choice_list("land")
    assert lands is not None
    owners: dict[str, tuple[AnyGrant, ...]] = {
        "life": classes.features_of(CATALOG, "cleric")["life-domain-spells"].grants,
        "devotion": classes.features_of(CATALOG, "paladin")["oath-of-devotion-spells"].grants,
        "fiend": classes.features_of(CATALOG, "warlock")["fiend-expanded-spells"].grants,
        **{f"land-{option.id}": option.grants for option in lands.options},
    }
    folio: dict[str, list[str]] = {}
    for name, grants in owners.items():
        for grant in grants:
            assert grant.kind == "extra-spells"
            for at in grant.spells:
                spell = CATALOG.spell(at.id)
                assert spell is not None
                folio.setdefault(f"{name}-{spell.level if name == 'fiend' else at.level}", []).append(at.id)
    yield from _missing(folio, records)
    for id_ in folio.keys() & records.keys():
        yield id_, "spells", records[id_]["spells"], sorted(folio[id_])


def _invocations(records: Mapping[str, Record]) -> Iterator[Row]:
    listed = CATALOG.choice_list("invocation")
    assert listed is not None
    yield from _missing((option.id for option in listed.options), records)
    for option in listed.options:
        needs = [*option.requires.calls("has")] if option.requires is not None else []
        known = [*option.requires.calls("knows")] if option.requires is not None else []
        folio = {
            "level": option.level if option.level > 1 else 0,
            "pact": needs[0].removeprefix("pact-of-the-") if needs else None,
            "spell": known[0] if known else None,
        }
        yield from _beside(option.id, {k: v for k, v in records[option.id].items() if k != "id"}, folio)


# -- spells and creatures -----------------------------------------------------------------------------------------


def _spells(records: Mapping[str, Record]) -> Iterator[Row]:
    cells = by_text_id("spells", records)
    ours = {n.id: n.entry for n in CATALOG.every("spell") if isinstance(n.entry, Spell)}
    yield from _missing(ours, cells)
    for id_ in ours.keys() & cells.keys():
        spell, figures = ours[id_], cells[id_]
        costs = figures["costs"]
        allowed = {*costs, sum(costs), *spells.SEVERAL.get(id_, ())} if costs else {None}
        folio = {
            **_name("spell", figures, id_),
            "level": spell.level,
            "school": spell.school,
            "ritual": spell.ritual,
            # The trigger of a reaction stands in the summary.
            "time": spell.casting_time + (", trigger" if "reaction" in spell.casting_time and spell.summary else ""),
            "range": spell.range,
            "components": list(spell.components),
            "duration": spell.duration.replace("1 day", "24 hours"),
            "concentration": spell.concentration,
            "costs": costs if spell.cost_gp in allowed else [spell.cost_gp],
            "consumed": spell.consumed,
            "classes": sorted(spell.classes),
        }
        yield from _beside(id_, {k: v for k, v in figures.items() if not k.startswith("prose.")}, folio)
        yield from _prose(id_, spell, figures)


def _prose(id_: str, spell: Spell, figures: Cells) -> Iterator[Row]:
    """What the description names: saves, attacks, damage; the folio has the one that the spell begins with."""
    for field, own in (("saves", spell.save), ("attacks", spell.attack)):
        named = figures[f"prose.{field}"]
        yield id_, f"prose.{field}", named, named if own in (named or [None]) else [own]
    yield id_, "prose.half", figures["prose.half"], spell.on_save == "half"
    steps, named = {step.from_ for step in spell.scaling if step.by == "slot"}, figures["prose.higher"]
    yield id_, "prose.higher", named, named if steps <= set(named) and bool(steps) == bool(named) else sorted(steps)
    dealt = {
        f"{part.dice} {type_}" for part in spell.damage for type_ in (*part.types, *([part.type] if part.type else []))
    }
    named = figures["prose.damage"]
    yield id_, "prose.damage", named, named if dealt <= set(named) and bool(dealt) == bool(named) else sorted(dealt)


def _creatures(records: Mapping[str, Record]) -> Iterator[Row]:
    cells = by_text_id("creatures", records)
    back = {theirs: ours for ours, theirs in creatures.OWN_IDS.items()}
    ours = {back.get(n.id, n.id): n.entry for n in CATALOG.every("creature") if isinstance(n.entry, Creature)}
    yield from _missing(ours, cells)
    for id_ in ours.keys() & cells.keys():
        one, figures = ours[id_], cells[id_]
        parts = re.fullmatch(r"(\d+d\d+)(?:([+-])(\d+))?", one.hp_dice)
        assert parts is not None, one.hp_dice
        hit_dice, sign, bonus = parts.groups()
        folio = {
            **_name("creature", figures, one.id),
            "size": one.size,
            "type": f"swarm of tiny {one.type}s" if "swarm" in one.tags else one.type,
            "alignment": one.alignment,
            "armor_class": one.ac,
            "hit_points": one.hp,
            "hit_dice": hit_dice,
            "hit_point_bonus": int(f"{sign or ''}{bonus or 0}"),
            "hover": one.hover,
            "vulnerabilities": sorted(one.vulnerabilities),
            "resistances": sorted(one.resistances),
            "immunities": sorted(one.immunities),
            "condition_immunities": sorted(one.condition_immunities),
            "challenge": figures["challenge"],
            "xp": one.xp,
            "magic_resistance": one.magic_resistance,
            "legendary_resistance": one.legendary_resistance,
            "senses.passive_perception": one.passive_perception,
            **{f"scores.{n}": one.scores[ability] for n, ability in enumerate(ABILITIES, 1)},
            **{f"speed.{mode}": feet for mode, feet in one.speeds.items()},
            **{f"saves.{ability}": value for ability, value in one.saves.items()},
            **{f"skills.{skill}": value for skill, value in one.skills.items()},
            **{f"senses.{sense}": feet for sense, feet in one.senses.items()},
        }
        if creatures.CHALLENGES.get(figures["challenge"], str(figures["challenge"])) != one.challenge:
            folio["challenge"] = one.challenge
        figures = {k: sorted(v) if isinstance(v, list) else v for k, v in figures.items()}
        yield from _beside(id_, figures, folio)


# -- equipment ----------------------------------------------------------------------------------------------------


def _mundane(file: str, categories: set[str], records: Mapping[str, Record]) -> Iterator[tuple[str, Item, Cells]]:
    cells = by_text_id(file, records)
    for id_, figures in cells.items():
        thing = items.item(id_)
        assert thing.category in categories, (id_, thing.category)
        yield id_, thing, figures


def _weapons(records: Mapping[str, Record]) -> Iterator[Row]:
    ours = {n.id for n in CATALOG.every("item") if isinstance(n.entry, Item) and n.entry.category == "weapon"}
    yield from _missing(ours, {items.item(id_).id for id_ in by_text_id("weapons", records)})
    for id_, thing, figures in _mundane("weapons", {"weapon"}, records):
        weapon = thing.weapon
        assert weapon is not None
        folio = {
            **_name("item", figures, thing.id),
            "category": weapon.group,
            "style": weapon.reach,
            "cost_cp": thing.cost_cp,
            "dice": weapon.die,
            "damage_type": weapon.damage,
            "weight": thing.weight,
            "properties": sorted(weapon.properties),
            "range": list(weapon.range) if weapon.range else None,
            "versatile": weapon.versatile,
        }
        yield from _beside(id_, figures, folio)


def _armor(records: Mapping[str, Record]) -> Iterator[Row]:
    ours = {n.id for n in CATALOG.every("item") if isinstance(n.entry, Item) and n.entry.category == "armor"}
    yield from _missing(ours, {items.item(id_).id for id_ in by_text_id("armor", records)})
    for id_, thing, figures in _mundane("armor", {"armor"}, records):
        armor = thing.armor
        assert armor is not None
        shield = armor.group == "shield"
        folio = {
            **_name("item", figures, thing.id),
            "category": armor.group,
            "cost_cp": thing.cost_cp,
            "armor_class": armor.ac,
            # A shield's bonus has nothing to do with Dexterity.
            "dex": figures["dex"] if shield else armor.dex_cap != 0,
            "dex_max": figures["dex_max"] if shield else armor.dex_cap or None,
            "strength": armor.strength or 0,
            "stealth_disadvantage": armor.stealth_disadvantage,
            "weight": thing.weight,
        }
        yield from _beside(id_, figures, folio)


# Any of several, at the price that each of them has: an amulet, emblem or reliquary costs 5 gp.
ANY_OF: Final = {"holy-symbol"}
CARRIED: Final = {"gear", "ammunition", "tool", "mount", "vehicle", "tack", "service", "trade-good", "magic"}


def _equipment(records: Mapping[str, Record]) -> Iterator[Row]:
    cells = by_text_id("equipment", records)
    for other in ("weapons", "armor", "packs"):
        cells |= by_text_id(other, read(TEXT_FOLDER / f"{other}.json")[1])
    known = {items.item(id_).id for id_ in cells}
    back = {items.item(id_).id: id_ for id_ in by_text_id("equipment", read(DATA_FOLDER / "equipment.json")[1])}
    for named in CATALOG.every("item"):
        assert isinstance(named.entry, Item)
        # Without a price: kinds of things (holy symbol, vehicles on land) and what stands inside packs only.
        own = named.entry.magic is None and named.entry.category not in ("service", "trade-good")
        if (
            (own or named.id == "potion-of-healing")
            and named.entry.cost_cp is not None
            and named.id not in known | ANY_OF
        ):
            yield back.get(named.id, named.id), "record", ABSENT, "present"
    for id_, thing, figures in _mundane("equipment", CARRIED, records):
        group = figures.get("group")
        folio: Cells = {
            "cost_cp": thing.cost_cp or 0,
            "group": group if group is None or group in (thing.category, *thing.groups) else thing.groups,
            "quantity": thing.bundle,
            "weight": thing.weight or 0,
            "speed": thing.speed,
            "capacity": thing.capacity,
        }
        unit = "feet" if "capacity" in figures else "miles an hour"
        theirs = {k: v for k, v in figures.items() if k != "name"}  # many are turned round or carry a measure
        for field, word in (("speed", unit), ("capacity", "pounds")):
            if field in figures:
                theirs[field] = f"{figures[field]} {word}"
        theirs |= {"cost_cp": figures["cost_cp"] or 0}
        if "weight" in theirs:
            theirs["weight"] = theirs["weight"] or 0
        yield from _beside(id_, theirs, {k: v for k, v in folio.items() if k in theirs})


def _packs(records: Mapping[str, Record]) -> Iterator[Row]:
    ours = {n.id for n in CATALOG.every("item") if isinstance(n.entry, Item) and n.entry.category == "pack"}
    cells = by_text_id("packs", records)
    yield from _missing(ours, cells)
    for id_, figures in cells.items():
        thing = items.item(id_)
        contents: Counter[str] = Counter()
        for count, inner in figures["contents"]:
            piece = items.item(inner)
            contents[piece.id] += count * (piece.bundle if piece.id == "ball-bearing" else 1)
        inside: Counter[str] = Counter()
        for text in thing.contents:
            count, _, inner = text.rpartition(" ")
            inside[inner] += int(count or 1)
        folio = {
            **_name("item", figures, thing.id),
            "cost_cp": thing.cost_cp,
            "contents": inside,
        }
        yield from _beside(id_, {**figures, "contents": contents}, folio)


def _magic_items(records: Mapping[str, Record]) -> Iterator[Row]:
    cells = by_text_id("magic-items", records)
    printed: dict[str, tuple[str, str, Cells]] = {}
    for id_, figures in cells.items():
        for own, rarity in _varieties(id_, figures):
            printed[items.OWN_IDS.get(own, own)] = (id_, rarity, figures)
    ours = {n.id for n in CATALOG.every("item") if isinstance(n.entry, Item) and n.entry.magic and not n.entry.base}
    based = {n.id for n in CATALOG.every("item") if isinstance(n.entry, Item) and n.entry.magic and n.entry.base}
    back = {own: printed_id for printed_id, own in items.OWN_IDS.items()}
    yield from _missing({back.get(i, i) for i in ours}, {back.get(i, i) for i in printed.keys() - based})
    for own, (id_, rarity, figures) in printed.items():
        thing = CATALOG.item(own)
        if thing is None or thing.magic is None:
            yield id_, "record", "present", ABSENT
            continue
        folio = {
            **(_name("item", figures, own) if own == id_ else {}),
            "type": thing.magic.kind,
            "rarity": thing.magic.rarity,
            "attunement": thing.magic.attunement,
            "by": thing.magic.attunement_by,
        }
        theirs = {field: figures[field] for field in ("type", "attunement")}
        theirs |= {"name": figures["name"]} if own == id_ and "name" in figures else {}
        theirs |= {"rarity": rarity.replace(" ", "-"), "by": (figures["by"] or "").strip() or None}
        yield from _beside(id_, theirs, folio)


def _varieties(id_: str, figures: Cells) -> list[tuple[str, str]]:
    """Ids of the items that a printed item stands for, with their rarities."""
    if id_ not in items.KINDS:
        return [(id_, figures["rarity"])]
    kinds = {k.removeprefix("varieties."): v for k, v in figures.items() if k.startswith("varieties.")}
    if "resistance" in id_:
        kinds = dict.fromkeys(items.RESISTED, figures["rarity"])
    kinds = kinds or dict.fromkeys(items.IN_PROSE.get(id_, ()), "legendary")
    own = [(items.KINDS[id_].format(kind), rarity) for kind, rarity in kinds.items()]
    return [*own, (id_, figures["rarity"])] if id_ == "crystal-ball" else own


def _prices(records: Mapping[str, Record]) -> Iterator[Row]:
    """Trade goods, services and lifestyles, without their order: how often each price is printed."""
    ours = [n.entry for n in CATALOG.every("item") if isinstance(n.entry, Item)]
    mine = [i for i in ours if i.category in ("trade-good", "service") and "coin" not in i.groups]
    counted = Counter(i.cost_cp or 0 for i in mine)
    for id_, record in records.items():
        price = record["cost_cp"] or 0
        yield id_, "cost_cp", price, price if counted[price] > 0 else ABSENT
        counted[price] -= 1
    for price in +counted:
        yield f"price-{price}", "record", ABSENT, "present"


# -- the release --------------------------------------------------------------------------------------------------


def _advancement(records: Mapping[str, Record]) -> Iterator[Row]:
    for id_, record in records.items():
        level = int(id_)
        yield id_, "experience", record["experience"], CATALOG.release.experience[level - 1]
        yield id_, "proficiency_bonus", record["proficiency_bonus"], CATALOG.release.proficiency_bonus[level - 1]


def _multiclass_slots(records: Mapping[str, Record]) -> Iterator[Row]:
    for id_, record in records.items():
        row = CATALOG.release.slots[int(id_) - 1]
        for place, value in enumerate(record["slots"], 1):
            yield id_, f"slots.{place}", value, row[place - 1] if place <= len(row) else 0


# Figure file -> its rows beside the folio. `subclass-spell-lists` has the spells of `subclass-spells` once more, from a
# field that the reference NOTES call unreliable; tests/reference compares it with the text.
FILES: Final[dict[str, Callable[[Mapping[str, Record]], Iterator[Row]]]] = {
    "advancement": _advancement,
    "armor": _armor,
    "classes": _classes,
    "creatures": _creatures,
    "equipment": _equipment,
    "invocations": _invocations,
    "levels": _levels,
    "magic-items": _magic_items,
    "multiclass": _multiclass,
    "multiclass-slots": _multiclass_slots,
    "packs": _packs,
    "prices": _prices,
    "spells": _spells,
    "starting-equipment": _starting_equipment,
    "subclass-features": _subclass_features,
    "subclass-spells": _subclass_spells,
    "weapons": _weapons,
}
