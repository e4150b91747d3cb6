"""Weapons, armor, gear, tools, mounts, vehicles, packs and prices of the SRD 5.1 text (equipment.md)."""

from __future__ import annotations

import re

from tests.reference.figures import Record, slug
from tests.reference.text_tables import Row, copper, number, quantity, rows

# What the packs' sentences call a thing, and the row of the gear tables it is (things without a row keep their words).
PACK_WORDS = {
    "10-feet-of-string": "string-10-feet",
    "50-feet-of-hempen-rope": "rope-hempen-50-feet",
    "bag-of-1000-ball-bearings": "ball-bearings-bag-of-1000",
    "blocks-of-incense": "block-of-incense",
    "book-of-lore": "book",
    "bottle-of-ink": "ink-1-ounce-bottle",
    "candles": "candle",
    "cases-for-maps-and-scrolls": "case-map-or-scroll",
    "costumes": "clothes-costume",
    "days-of-rations": "rations-1-day",
    "days-rations": "rations-1-day",
    "flasks-of-oil": "oil-flask",
    "hooded-lantern": "lantern-hooded",
    "pitons": "piton",
    "set-of-fine-clothes": "clothes-fine",
    "sheets-of-paper": "paper-one-sheet",
    "sheets-of-parchment": "parchment-one-sheet",
    "torches": "torch",
    "vial-of-perfume": "perfume-vial",
}

GEAR_TABLES = ("Adventuring Gear", "Tools", "Tack, Harness, and Drawn Vehicles")
PRICE_TABLES = ("Lifestyle Expenses", "Food, Drink, and Lodging", "Services")


def weapon(row: Row) -> Record:
    """One weapon row: properties without their figures, which have keys of their own."""
    cell = dict(zip(row.titles, row.cells, strict=True))
    dice, _, kind = cell["Damage"].partition(" ")
    printed = cell["Properties"].lower()
    reach = re.search(r"range (\d+)/(\d+)", printed)
    versatile = re.search(r"versatile \((\w+)\)", printed)
    bare = re.sub(r"\s*\([^)]*\)", "", printed)
    category, style, _ = row.heading.split()
    return {
        "id": slug(row.cells[0]),
        "name": row.cells[0],
        "category": category.lower(),
        "style": style.lower(),
        "cost_cp": copper(cell["Cost"]),
        "dice": dice if kind else None,
        "damage_type": kind or None,
        "weight": number(cell["Weight"]),
        "properties": sorted(part.strip() for part in bare.split(",") if part.strip("- ")),
        "range": [int(reach[1]), int(reach[2])] if reach else None,
        "versatile": versatile[1] if versatile else None,
    }


def armor(row: Row) -> Record:
    """One armor row; `dex` is whether the Dexterity modifier counts, `dex_max` its limit."""
    cell = dict(zip(row.titles, row.cells, strict=True))
    limit = re.search(r"max (\d+)", cell["Armor Class (AC)"])
    return {
        "id": slug(row.cells[0]),
        "name": row.cells[0],
        "category": row.heading.split()[0].lower(),
        "cost_cp": copper(cell["Cost"]),
        "armor_class": number(cell["Armor Class (AC)"]),
        "dex": "Dex" in cell["Armor Class (AC)"],
        "dex_max": int(limit[1]) if limit else None,
        "strength": number(cell["Strength"]),
        "stealth_disadvantage": cell["Stealth"] == "Disadvantage",
        "weight": number(cell["Weight"]),
    }


def gear(row: Row) -> Record:
    """One row with a price and a weight: adventuring gear, tools, tack."""
    name, cost = row.cells[0], row.cells[1]
    if name == "Potion of healing 5":  # a digit strayed over the column border (reference NOTES, A10)
        name, cost = "Potion of healing", "5" + cost
    if row.group == "Saddle":
        name = f"Saddle, {name.lower()}"
    return {
        "id": slug(re.sub(r"(\d),(\d)", r"\1\2", name)),
        "name": name,
        "group": slug(row.group) if row.group and row.group != "Saddle" else None,
        "cost_cp": copper(cost),
        "quantity": quantity(name),
        "weight": number(row.cells[2]),
    }


def barding(row: Row, armors: list[Record]) -> list[Record]:
    """The row `Barding` (cost and weight as multiples) worked out for every suit of armor."""
    money, mass = number(row.cells[1]), number(row.cells[2])
    return [
        {
            "id": "barding-" + each["id"],
            "name": "Barding: " + each["name"],
            "group": None,
            "cost_cp": each["cost_cp"] * money,
            "quantity": 1,
            "weight": each["weight"] * mass,
        }
        for each in armors
        if each["category"] != "shield"
    ]


def carrier(row: Row, name: str) -> Record:
    """A mount (speed in feet, capacity in pounds) or a ship (speed in miles an hour)."""
    record = {
        "id": slug(name),
        "name": name.capitalize(),
        "cost_cp": copper(row.cells[1]),
        "speed": number(row.cells[2]),
    }
    if "Carrying Capacity" in row.titles:
        record["capacity"] = number(row.cells[3])
    return record


def price(row: Row) -> Record:
    """One row of lifestyle, food and lodging, or services; `per` is the unit a price is for."""
    per = re.search(r"per (\w+)", " ".join((row.group or "", *row.cells)))
    return {
        "id": slug(f"{row.heading.split(',')[0].split()[0]} {row.group or ''} {row.cells[0]}"),
        "table": row.heading,
        "group": row.group,
        "name": row.cells[0],
        "cost_cp": copper(row.cells[1]),
        "per": per[1] if per else "day" if row.heading.startswith("Lifestyle") else None,
    }


def goods(row: Row) -> list[Record]:
    """One row of trade goods: one record for each thing of that price."""
    names = re.split(r",? or ", row.cells[1])
    return [
        {
            "id": slug(f"trade {name}"),
            "table": row.heading,
            "group": None,
            "name": "1 lb. of pepper" if name == "pepper" else name,
            "cost_cp": copper(row.cells[0]),
        }
        for name in names
    ]


def equipment(text: str) -> dict[str, list[Record]]:
    """Records of all tables of equipment.md by figure file: weapons, armor, equipment, packs, prices."""
    weapons: list[Record] = []
    armors: list[Record] = []
    things: list[Record] = []
    prices: list[Record] = []
    for row in rows(text):
        title = row.heading
        if title.endswith("Weapons") and "Damage" in row.titles:
            weapons.append(weapon(row))
        elif "Armor Class (AC)" in row.titles:
            armors.append(armor(row))
        elif row.cells[0] == "Barding":
            things += barding(row, armors)
        elif title in GEAR_TABLES and "Weight" in row.titles and row.cells[1]:
            things.append(gear(row))
        elif title.startswith("Mounts"):
            things += [carrier(row, name) for name in row.cells[0].split(" or ")]  # "Donkey or mule"
        elif title.startswith("Waterborne"):
            things.append(carrier(row, row.cells[0]))
        elif title in PRICE_TABLES:
            prices.append(price(row))
        elif title == "Trade Goods":
            prices += goods(row)
    return {"weapons": weapons, "armor": armors, "equipment": things, "packs": packs(text), "prices": prices}


def packs(text: str) -> list[Record]:
    """The seven equipment packs: price and [count, thing] for each thing inside, in the text's words."""
    found = []
    for name, price, contents in re.findall(r"\*\*\*(\w+’s Pack) \(([\d,]+ gp)\)\.\*\*\* Includes (.*)", text):
        inside = []
        listed = contents.replace("The pack also has", ",").replace("1,000", "1000")
        listed = re.sub(r" strapped to the side of it", "", listed)
        for part in re.split(r",(?: and)?|\.", listed):
            words = re.sub(r"^(and )?", "", part.strip())
            if not words:
                continue
            match = re.match(r"(an?|\d+) (?!feet)(.*)", words)
            count = int(match[1]) if match and match[1].isdigit() else 1
            thing = slug(match[2] if match else words)
            inside.append([count, PACK_WORDS.get(thing, thing)])
        found.append(
            {"id": slug(name), "name": name.replace("’", "'"), "cost_cp": copper(price), "contents": sorted(inside)}
        )
    return found
