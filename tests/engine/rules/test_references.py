"""What a folio refers to: every fault with its file, its line and the nearest id, all at once; and no circles."""

import pytest

from engine.rules.catalog import Catalog
from engine.rules.folio import Folio, FolioProblem
from engine.rules.loader import read_folio
from engine.store.folio_files import SHIPPED, folio_bytes, load_shipped

HEADER = b"""id: tide-guild
title: Tide Guild
version: "1"
licence: CC-BY-4.0
attribution: the guild of coastal cartographers
extends: srd-5.1
"""


def read(files: dict[str, bytes] | str, more: str = "") -> Folio | list[FolioProblem]:
    texts = {"feats/x.yaml": files.encode()} if isinstance(files, str) else files
    return read_folio({"folio.yaml": HEADER + more.encode(), **texts}, lambda _: (load_shipped("srd-5.1"),))


def told(files: dict[str, bytes] | str, more: str = "") -> list[str]:
    found = read(files, more)
    assert isinstance(found, list), found
    return [str(problem) for problem in found]


def test_the_release_itself_refers_to_nothing_that_is_not_there() -> None:
    """Also a check that no reference of a large folio is taken for a fault."""
    found = read_folio(folio_bytes(SHIPPED / "srd-5.1"), lambda _: ())
    assert isinstance(found, Folio), [str(p) for p in found][:5]


FEAT = "id: x\nname: X\ngrants:\n- {%s}\n"


@pytest.mark.parametrize(
    ("grant", "said"),
    [
        ("kind: proficiency, of: skill, ids: [stealth, percepton]", "gives the skill `percepton`; nearest: perception"),
        ("kind: proficiency, of: save, ids: [wiz]", "gives the saving throw `wiz`; nearest: wis"),
        ("kind: proficiency, of: weapon, ids: [simple, ling-sword]", "gives the weapon `ling-sword`"),
        ("kind: proficiency, of: armor, ids: [heavi]", "nearest: heavy"),
        ("kind: proficiency, of: tool, ids: [theives-tools]", "nearest: thieves-tools"),
        ("kind: expertise, ids: [stelth]", "nearest: stealth"),
        ("kind: lowest-d20, at_least: 8, checks: [survivl]", "nearest: survival"),
        ("kind: advantage, roll: save, of: [cons]", "`cons`; nearest: con"),
        (
            "kind: extra-die, die: 1d4, rolls: [check], of: [navigators-tools], pool: sextant",
            "gives the pool `sextant`",
        ),
        ("kind: defense, defense: resistance, to: [colld]", "gives the damage type `colld`; nearest: cold"),
        ("kind: defense, defense: condition-immunity, to: [scared]", "gives the condition `scared`"),
        ("kind: extra-spells, how: innate, spells: [{id: fog-clod}]", "gives the spell `fog-clod`; nearest: fog-cloud"),
        ("kind: spell-damage, amount: wis, lists: [drood]", "gives the class `drood`"),
        ("kind: choice, keyword: stile, count: 1", "`stile` is the keyword of no choice list"),
        ("kind: choice, keyword: style, count: 1, from: [archary]", "gives the style `archary`; nearest: archery"),
        ("kind: choice, keyword: skill, count: 1, from: [stealth, steelth]", "gives the skill `steelth`"),
        ("kind: choice, keyword: tool, count: 1, from: [artisans-tool]", "nearest: artisans-tools"),
        ("kind: choice, keyword: cantrip, count: 1, list: wizzard", "`wizzard`; nearest: wizard"),
        ("kind: choice, keyword: skill, count: 1, total: 2", "either `count` or `total`"),
        ("kind: check-bonus, amount: level_of('rouge')", "gives the class `rouge`; nearest: rogue"),
        ("kind: check-bonus, amount: rouge_level", "gives the class `rouge`"),
        ("kind: check-bonus, amount: 1, when: state('rags')", "gives the state `rags`; nearest: rage"),
        ("kind: check-bonus, amount: 1, when: has('pact-of-the-tomb')", "nearest: pact-of-the-tome"),
        ("kind: check-bonus, amount: 1, when: knows('fireboll')", "nearest: fireball"),
        ("kind: attack-bonus, amount: 1, when: wields('clubb')", "nearest: club"),
        ("kind: check-bonus, amount: column(rages)", "only classes and subclasses have a table"),
        ("kind: check-bonus, amount: 1d6", "`1d6` gives dice such as 1d6; a whole number is expected here"),
        ("kind: check-bonus, amount: \"'three'\"", "gives a text; a whole number is expected"),
        ("kind: extra-die, die: \"'three'\", rolls: [check]", "dice such as 1d6 or a whole number is expected here"),
        ("kind: check-bonus, amount: 1, when: 1d6", "is expected here"),
        ("kind: check-bonus, amount: unlimited", "gives `unlimited`"),
    ],
)
def test_a_grant_that_refers_to_nothing(grant: str, said: str) -> None:
    found = told(FEAT % grant)
    assert len(found) == 1, found
    assert found[0].startswith("feats/x.yaml:4: ")
    assert said in found[0]


def test_every_fault_of_every_file_is_told_at_once() -> None:
    found = told(
        {
            "feats/a.yaml": b"id: a\nname: A\ngrants:\n- {kind: expertise, ids: [stelth]}\n",
            "subclasses/b.yaml": b"id: b\nname: B\nof: rouge\nfeatures: []\n",
            "spells/c.yaml": b"id: c\nname: C\nlevel: 1\nschool: evocation\ncasting_time: 1 action\nrange: self\n"
            b"duration: 1 hour\nclasses:\n- druid\n- rangr\n",
        },
        "lists: {wizard: [c, mising]}\n",
    )
    assert [line.partition(": ")[0] for line in found] == [
        "feats/a.yaml:4",
        "folio.yaml:7",
        "spells/c.yaml:10",
        "subclasses/b.yaml:3",
    ]


CLASS = """id: piper
name: Piper
section: Classes
hit_die: 8
saves: [dex, cha]
subclass_level: 3
subclass_title: Shanty
tables:
  die: [1d4, 1d4, 1d4, 1d4, 1d6, 1d6, 1d6, 1d6, 1d8, 1d8, 1d8, 1d8, 1d8, 1d8, 1d8, 1d8, 1d8, 1d8, 1d8, 1d8]
  songs: [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]
features:
- id: tune
  name: Tune
  grants:
  - {%s}
"""


@pytest.mark.parametrize(
    ("grant", "said"),
    [
        # A formula cannot add to a column of dice; only the table tells that it is one.
        ("kind: check-bonus, amount: column(die) + 1", "counts with dice"),
        ("kind: check-bonus, amount: column(die)", "gives dice such as 1d6; a whole number is expected"),
        ("kind: check-bonus, amount: 1, when: column(die) > 2", "compares with dice"),
        ("kind: check-bonus, amount: 'max(column(die), 2)'", "counts with dice"),
        ("kind: check-bonus, amount: column(song)", "reads the column `song`, which no table here has; nearest: songs"),
        (
            "kind: spellcasting, ability: cha, list: piper, progression: full, preparation: known",
            "a class that casts spells needs the column `slots_1`",
        ),
    ],
)
def test_a_class_whose_formulas_do_not_fit_its_table(grant: str, said: str) -> None:
    found = told({"classes/x.yaml": (CLASS % grant).encode()})
    assert len(found) == 1, found
    assert found[0].startswith("classes/x.yaml:15: ")
    assert said in found[0]


def test_formulas_that_fit() -> None:
    grants = "kind: pool, id: tune, uses: column(songs) + 1, die: column(die), restored: dawn"
    assert isinstance(read({"classes/x.yaml": (CLASS % grants).encode()}), Folio)


CIRCLES = {
    "a species of itself": ("species", "id: heron\nname: Heron\nof: heron\n", "is a kind of itself"),
    "a subspecies of a subspecies": ("species", "id: grey\nname: Grey\nof: high-elf\n", "is itself a kind of `elf`"),
    "a feat that opens feats": (
        "feats",
        "id: x\nname: X\ngrants: [{kind: choice, keyword: feat, count: 1}]\n",
        "can be answered with `x` again",
    ),
    "an option that opens its own list": (
        "choices",
        "id: knots\nname: Knots\nkeyword: knot\noptions:\n- {id: a, name: A, grants: [{kind: choice, keyword: knot,"
        " count: 1, from: [b]}]}\n- {id: b, name: B, grants: [{kind: choice, keyword: knot, count: 1}]}\n",
        "can be answered with `a` again",
    ),
    "an item made of itself": (
        "items",
        "id: x\nname: X\ncategory: magic\nmagic: {rarity: rare, kind: weapon, base: [x]}\n",
        "cannot be an enchantment of itself",
    ),
    "an enchantment of an enchantment": (
        "items",
        "id: x\nname: X\ncategory: magic\nmagic: {rarity: rare, kind: weapon, base: [flame-tongue]}\n",
        "is an enchantment itself",
    ),
    "a feature in its own place": (
        "backgrounds",
        "id: x\nname: X\nfeatures: [{id: y, name: Y, replaces: y, no_number: none}]\n",
        "cannot take its own place",
    ),
}


@pytest.mark.parametrize("case", CIRCLES)
def test_nothing_leads_back_to_itself(case: str) -> None:
    folder, text, said = CIRCLES[case]
    found = told({f"{folder}/x.yaml": text.encode()})
    assert any(said in line for line in found), found


@pytest.mark.parametrize(
    ("folder", "text", "said"),
    [
        ("choices", "id: a\nname: A\nkeyword: skill\noptions: [{id: b, name: B, no_number: x}]\n", "outlines use"),
        ("choices", "id: a\nname: A\nkeyword: swaps\noptions: [{id: b, name: B, no_number: x}]\n", "outlines use"),
        (
            "choices",
            "id: a\nname: A\nkeyword: knot\noptions:\n- {id: b, name: B, no_number: x}\n"
            "- {id: b, name: C, no_number: x}\n",
            "stands in this list twice",
        ),
        (
            "backgrounds",
            "id: a\nname: A\nfeatures: [{id: b, name: B, no_number: x}, {id: b, name: C, no_number: x}]\n",
            "stands in `a` twice",
        ),
        ("backgrounds", "id: a\nname: A\nstarting_gear: [{options: [[10 torches]]}]\n", "nearest: torch"),
        ("backgrounds", "id: a\nname: A\nstarting_gear: [{options: [[any-artisan-tool]]}]\n", "no group of items"),
        ("backgrounds", "id: a\nname: A\nstarting_gear: [{options: [[ten torch]]}]\n", "a count and an id"),
        ("subclasses", "id: a\nname: A\n", "does not say of which class"),
        (
            "subclasses",
            "id: a\nname: A\nof: fighter\nfeatures: [{id: b, name: B, replaces: second-wid, no_number: x}]\n",
            "nearest: second-wind",
        ),
        ("items", "id: a\nname: A\ncategory: pack\ncontents: [10 torchs]\n", "nearest: torch"),
        (
            "items",
            "id: a\nname: A\ncategory: weapon\nweapon: {group: simple, reach: melee, die: 1d4, damage: stab}\n",
            "gives the damage type `stab`",
        ),
        ("states", "id: a\nname: A\nneeds: ragee\ngrants: [{kind: armor-bonus, amount: 1}]\n", "nearest: rage"),
        (
            "feats",
            "id: a\nname: A\nrequires: knows('fireballl')\ngrants: [{kind: armor-bonus, amount: 1}]\n",
            "nearest: fireball",
        ),
        (
            "creatures",
            "id: a\nname: A\nsize: tiny\ntype: beasts\nac: 10\nhp: 1\nhp_dice: 1d4\nscores: {str: 1, dex: 1, con: 1,"
            " int: 1, wis: 1, cha: 1}\npassive_perception: 10\nchallenge: '0'\nxp: 0\n",
            "gives the creature type `beasts`; nearest: beast",
        ),
    ],
)
def test_entries_that_refer_to_nothing(folder: str, text: str, said: str) -> None:
    found = told({f"{folder}/x.yaml": text.encode()})
    assert len(found) == 1, found
    assert said in found[0]


@pytest.mark.parametrize(
    ("header", "said"),
    [
        (
            "bars: [firebal]",
            "no other folio at hand gives `firebal`, so there is nothing to put aside; nearest: fireball",
        ),
        ("bars: [shield]", "say which: `spell shield`, `item shield`"),
        ("bars: [charm fireball]", "`charm` is no kind of content"),
        ("replaces: [fireball]", "this folio gives nothing called `fireball`"),
        ("lists: {wizzard: [fireball]}", "gives the class `wizzard`; nearest: wizard"),
        ("lists: {wizard: [firebal]}", "gives the spell `firebal`; nearest: fireball"),
    ],
)
def test_a_header_that_refers_to_nothing(header: str, said: str) -> None:
    found = told({}, header + "\n")
    assert len(found) == 1, found
    assert found[0].startswith("folio.yaml:7: ")
    assert said in found[0]


def test_a_folio_extends_a_release_that_is_there() -> None:
    found = read_folio({"folio.yaml": HEADER.replace(b"srd-5.1", b"srd-5.9")}, lambda _: ())
    assert isinstance(found, list)
    assert str(found[0]) == "folio.yaml:6: the folio extends `srd-5.9`, which is no rules release at hand"


# -- barring, replacing, adding --------------------------------------------------------------------------------------

FOG = """id: fog-cloud
name: Fog Cloud
level: 2
school: conjuration
casting_time: 1 action
range: 120 feet
duration: 1 hour
classes: [druid]
"""
STYLES = """id: harbour-styles
name: Harbour Styles
keyword: style
options:
- id: boathook
  name: Boathook
  offered_to: [fighter]
  grants: [{kind: attack-bonus, amount: 1, when: weapon and melee}]
"""


def made(files: dict[str, bytes], more: str = "") -> Catalog:
    folio = read(files, more)
    assert isinstance(folio, Folio), [str(p) for p in folio]
    return Catalog([load_shipped("srd-5.1"), folio])


def test_barring_is_by_kind() -> None:
    catalog = made({}, "bars: [spell shield, style archery, thief]\n")
    assert catalog.spell("shield") is None
    assert catalog.item("shield") is not None
    assert catalog.option("style", "archery") is None
    assert catalog.option("style", "defense") is not None
    assert catalog.subclass("thief") is None


def test_one_name_of_two_folios() -> None:
    catalog = made({"spells/x.yaml": FOG.encode()})
    plain, own = catalog.spell("fog-cloud"), catalog.spell("tide-guild/fog-cloud")
    assert (plain and plain.level, own and own.level) == (1, 2)
    assert [named.folio for named in catalog.find("spell", "Fog Cloud")] == ["srd-5.1", "tide-guild"]


def test_taking_the_place_of_another() -> None:
    catalog = made({"spells/x.yaml": FOG.encode()}, "replaces: [fog-cloud]\n")
    spell = catalog.spell("fog-cloud")
    assert spell is not None
    assert spell.level == 2
    assert [named.folio for named in catalog.find("spell", "Fog Cloud")] == ["tide-guild"]
    assert "fog-cloud" not in [s.id for s in catalog.spells_of("ranger")]


def test_options_for_a_list_of_the_release() -> None:
    catalog = made({"choices/x.yaml": STYLES.encode()})
    assert catalog.option("style", "boathook") is not None
    fighter, paladin = catalog.class_("fighter"), catalog.class_("paladin")
    assert fighter is not None
    assert paladin is not None
    style = next(g for f in fighter.features for g in f.grants if g.kind == "choice" and g.keyword == "style")
    assert "boathook" in catalog.widened(style, "fighter").from_
    assert catalog.widened(style, "paladin") == style
    assert catalog.widened(style, None) == style
