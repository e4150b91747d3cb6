"""The outline over the shipped release: what is written, what the document keeps, what is printed back."""

import re
from pathlib import Path

import pytest

from engine.build.document import (
    Build,
    Choose,
    Flag,
    Gain,
    Goal,
    Granted,
    Increase,
    Item,
    Line,
    Lose,
    NoteItem,
    Pick,
    Swap,
    build_hash,
)
from engine.build.outline import (
    NamedFolio,
    OutlineError,
    named_folios,
    parse_line,
    parse_outline,
    print_level,
    print_outline,
)
from engine.build.plain import plain
from engine.rules.catalog import Catalog
from engine.services.library import catalog, catalog_for, composed
from engine.store.folio_files import load_folder

RELEASE = catalog()
REED_WARDEN = (Path(__file__).parents[2] / "data" / "reed-warden.outline").read_text("utf-8")
SEEDS = sorted((Path(__file__).parents[3] / "bot" / "room" / "seed").glob("*.outline"))


def read(text: str, by: Catalog = RELEASE) -> Build:
    """Return the build of an outline that must be good and come back from what is printed for it."""
    found = parse_outline(text, by)
    assert isinstance(found, Build), "\n".join(map(str, found))
    assert parse_outline(print_outline(found, by), by) == found
    return found


def errors(text: str) -> list[OutlineError]:
    """Return the errors of an outline that must be bad."""
    found = parse_outline(text, RELEASE)
    assert isinstance(found, list)
    return found


def printed(build: Build) -> list[str]:
    """Return the lines printed for a build, without its name and rules."""
    lines = print_outline(build, RELEASE).splitlines()
    return [line for line in lines if not line.startswith(("Build:", "Rules:"))]


def choose(keyword: str, *ids: str, of: str | None = None) -> Choose:
    """Return a choice of plain picks."""
    return Choose(keyword=keyword, of=of, picks=tuple(Pick(id=id_) for id_ in ids))


# -- whole outlines ---------------------------------------------------------------------------------------------


def test_reed_warden_prints_as_it_was_written() -> None:
    """The example comes back to the letter, and the finder by title gives the same build."""
    build = read(REED_WARDEN)
    assert print_outline(build, RELEASE) == REED_WARDEN
    assert parse_outline(REED_WARDEN, catalog_for) == build
    # The identity of this revision: SHA-256 of its canonical JSON, which never changes once it was written.
    assert build_hash(build) == "6724bf994d4c93e47e93676277a0e64d680c01afaea50f508160ae8dbb627635"


@pytest.mark.parametrize("path", SEEDS, ids=lambda path: path.stem)
def test_demo_builds_print_a_form_that_stays(path: Path) -> None:
    """Printing twice gives the same text."""
    text = path.read_text("utf-8")
    names = [each.name.casefold().replace(" ", "-") for each in named_folios(text)]
    by = composed([*RELEASE.folios, *(load_folder(_folio(name)) for name in names)])
    build = read(text, by)
    assert [use.id for use in build.folios] == names
    printed_text = print_outline(build, by)
    again = parse_outline(printed_text, by)
    assert isinstance(again, Build)
    assert print_outline(again, by) == printed_text


def _folio(id_: str) -> Path:
    """Return the folder or file of a folio of the demo."""
    folder = SEEDS[0].parent / "folios" / id_
    return folder if folder.is_dir() else folder.with_suffix(".yaml")


def test_folios_that_a_text_names_are_told_apart() -> None:
    """By title or id, with version and hash behind them; a text that is wrong elsewhere names them all the same."""
    text = 'Folios: Coast Pilots, "tide, low" (version 2; hash ab), harbour-watch (version "1.5")\nWarp: 9\n1 Nobody\n'
    assert named_folios(text) == (
        NamedFolio("Coast Pilots"),
        NamedFolio("tide, low", "2", "ab"),
        NamedFolio("harbour-watch", "1.5"),
    )
    assert named_folios("Build: Reed Warden\n1 Rogue\n") == ()
    assert named_folios("") == ()


@pytest.mark.parametrize(
    "change",
    [
        lambda text: "\ufeff" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "\r"),
        lambda text: text.replace(" ", "\t"),
        lambda text: text.replace(" ", "\u00a0"),
        lambda text: re.sub("^", "    ", text, flags=re.M),
        lambda text: re.sub("^", "> ", text, flags=re.M),
        lambda text: re.sub("^", "> > ", text, flags=re.M),
        lambda text: re.sub("^", ">\t", text, flags=re.M),
        lambda text: f"```\n{text}```\n",
        lambda text: f"```text\n{text}```",
        lambda text: f"~~~\n{text}~~~\n",
        lambda text: text.replace("'", "\u2019"),
        lambda text: text.replace("-Elf", "\u2010Elf"),
        lambda text: text.replace("\n", "\n\n  \n# a comment, which goes;\n"),
        lambda text: text.replace("; ", ";\n      "),
        lambda text: text.replace("Athletics;", "Athletics;\n# between\n\n"),
        lambda text: text.replace(", ", ",\n"),
        lambda text: text.replace("Species:", "Race :"),
        lambda text: text.replace("Gear: ", "GEAR:"),
        lambda text: text.replace("skills", "Skill").replace("skill ", "SKILLS "),
        lambda text: text.replace("Rogue", "rogue").replace("Ranger", "RANGERS"),
        lambda text: text.replace("Half-Elf", "half elf").replace("(standard array)", "( Standard  Array )"),
        lambda text: text.replace("Rules: SRD 5.1", "Rules: srd-5.1"),
        lambda text: text.replace("Rules: SRD 5.1\n", ""),
        lambda text: text.replace("2 Rogue\n3 Rogue (Thief)", "2 Rogue:\n3 Rogue (Thief) :"),
        lambda text: "".join(reversed(text.splitlines(keepends=True)[:8])) + "".join(text.splitlines(True)[8:]),
        lambda text: "".join(text.splitlines(True)[8:]) + "".join(text.splitlines(True)[:8]),
    ],
)
def test_ways_a_text_comes_in_change_nothing(change: object) -> None:
    """Marks, line ends, quoting, fences, wrapping, order of headers, case and number of words."""
    assert callable(change)
    assert change(REED_WARDEN) != REED_WARDEN
    assert parse_outline(change(REED_WARDEN), RELEASE) == parse_outline(REED_WARDEN, RELEASE)


def test_long_dashes_and_minus_signs_are_hyphens() -> None:
    """U+2013 in a range, U+2212 in a goal, U+2014 in a raw text."""
    build = read("Build: Reed \u2014 Warden\nGoal: save.str >= \u22121 by 3\n1 Rogue\n2\u20135 Rogue\n6\u20148 Ranger")
    assert build.name == "Reed - Warden"
    assert build.goals[0].value == -1
    assert printed(build)[1:] == ["1-5 Rogue", "6-8 Ranger"]


def test_texts_are_stored_composed() -> None:
    """A letter and its accent typed apart are one letter (NFC), also in a quoted name of one's own."""
    build = read('Build: Re\u0301ed\nConcept: E\u0301lan\n1 Rogue: gain "Cha\u0302rt" (custom); note Me\u0301r')
    assert (build.name, build.concept) == ("R\u00e9ed", "\u00c9lan")
    gain, note = build.levels["rogue"][1].items
    assert isinstance(gain, Gain)
    assert gain.picks[0].id == "Ch\u00e2rt"
    assert note == NoteItem(text="M\u00e9r")


# -- level lines ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "class_id", "subclass", "hp", "roll", "out"),
    [
        ("5 Monk", "monk", None, None, None, "5 Monk"),
        ("5 Monk hp 8", "monk", None, 8, None, "5 Monk hp 8"),
        ("5 Monk HP8 # 31", "monk", None, 8, 31, "5 Monk hp 8 #31"),
        ("5 Cleric (Life)", "cleric", "life-domain", None, None, "5 Cleric (Life Domain)"),
        ("5 cleric(life domain)hp 3:", "cleric", "life-domain", 3, None, "5 Cleric (Life Domain) hp 3"),
        ("5 Monk (Way of the Open Hand)", "monk", "way-of-the-open-hand", None, None, "5 Monk (Way of the Open Hand)"),
        ('5 "Monk" ("Way of the Open Hand")', "monk", "way-of-the-open-hand", None, None, None),
    ],
)
def test_level_lines(
    line: str, class_id: str, subclass: str | None, hp: int | None, roll: int | None, out: str | None
) -> None:
    """Class, subclass, rolled hit points and the roll they cite."""
    found = parse_line(line, RELEASE, level=5)
    assert not isinstance(found, list), found
    assert (found.first, found.last, found.class_id) == (5, 5, class_id)
    assert found.line == Line(subclass=subclass, hp=hp, roll=roll)
    build = read(f"Build: Reed\n1-4 Rogue\n{line}")
    assert print_level(build, 5, RELEASE) == (out or "5 Monk (Way of the Open Hand)")


def test_ranges_are_levels_of_one_class_with_nothing_on_them() -> None:
    """A range is read where it is written and printed where it can stand; what a range says is its first level's."""
    build = read("Build: Reed\n1-2 Rogue: skill Stealth\n3-4 Rogue (Thief): +2 Dex\n5 Monk\n6 Monk\n7 Monk: note a")
    assert [(level, class_id, nth) for level, class_id, nth, line in build.lines() if not line.empty] == [
        (1, "rogue", 1),
        (3, "rogue", 3),
        (7, "monk", 3),
    ]
    assert printed(build) == [
        "1 Rogue: skill Stealth",
        "2 Rogue",
        "3 Rogue (Thief): +2 Dex",
        "4 Rogue",
        "5-6 Monk",
        "7 Monk: note a",
    ]
    assert printed(read("Build: Reed\n1-20 Druid")) == ["1-20 Druid"]


# Each item as it is written, what the document keeps, and how it is printed (None: as it was written).
ITEMS: list[tuple[str, Item | tuple[Item, ...], str | None]] = [
    ("skill sleight of hand", choose("skill", "sleight-of-hand"), "skill Sleight of Hand"),
    ("Skills Stealth", choose("skill", "stealth"), "skill Stealth"),
    ("skill Stealth, Perception", choose("skill", "stealth", "perception"), "skills Stealth, Perception"),
    ("expertise Stealth, Thieves' Tools", choose("expertise", "stealth", "thieves-tools"), None),
    ("expertise thieves tool", choose("expertise", "thieves-tools"), "expertise Thieves' Tools"),
    ("language Thieves' Cant", choose("language", "thieves-cant"), None),
    (
        "tools Vehicles (Land or Water), Vehicles (Land), Lute",
        choose("tool", "vehicles-land-or-water", "vehicles-land", "lute"),
        None,
    ),
    ("cantrips Light, Mage Hand", choose("cantrip", "light", "mage-hand"), None),
    ("spells Blindness/Deafness, Enlarge/Reduce", choose("spell", "blindness-deafness", "enlarge-reduce"), None),
    ("spell HUNTERS MARKS", choose("spell", "hunters-mark"), "spell Hunter's Mark"),
    ("spells (Wizard) Shield, Sleep", choose("spell", "shield", "sleep", of="wizard"), None),
    ("spell ( wizards )Shield", choose("spell", "shield", of="wizard"), "spell (Wizard) Shield"),
    ("copied Alarm, Identify", choose("copied", "alarm", "identify"), None),
    ("secrets Fireball, Counterspell", choose("secret", "fireball", "counterspell"), None),
    ("secret Fireball", choose("secret", "fireball"), None),
    ("prepare Bless, Bane", choose("prepare", "bless", "bane"), None),
    ("prepare (Cleric) Bless", choose("prepare", "bless", of="cleric"), None),
    ("mastery Longsword, Dagger", choose("mastery", "longsword", "dagger"), None),
    ("masteries Longsword", choose("mastery", "longsword"), "mastery Longsword"),
    ("mastered Shield, Misty Step", choose("mastered", "shield", "misty-step"), None),
    ("signatures Fireball, Fly", choose("signature", "fireball", "fly"), None),
    ("arcanum True Seeing", choose("arcanum", "true-seeing"), None),
    ("style two weapon fighting", choose("style", "two-weapon-fighting"), "style Two-Weapon Fighting"),
    ("metamagic Twinned Spell, Subtle Spell", choose("metamagic", "twinned-spell", "subtle-spell"), None),
    ("dragon Red", choose("dragon", "dragon-red"), None),
    ("ancestry Red", choose("ancestry", "dragonborn-red"), None),
    ("land Coast", choose("land", "coast"), None),
    ("terrains Coast, Swamp", choose("terrain", "coast", "swamp"), None),
    ("prey Colossus Slayer", choose("prey", "colossus-slayer"), None),
    ("tactic Steel Will", choose("tactic", "steel-will"), None),
    ("multiattack Volley", choose("multiattack", "volley"), None),
    ("defense Evasion", choose("defense", "evasion"), None),
    ("ability intelligence", choose("ability", "int"), "ability Int"),
    ("feature Shelter of the Faithful", choose("feature", "shelter-of-the-faithful"), None),
    (
        "enemy Giants (language Giant)",
        Choose(keyword="enemy", picks=(Pick(id="giants", items=(choose("language", "giant"),)),)),
        None,
    ),
    (
        "enemy Humanoids (kinds Gnolls, Orcs; language Orc)",
        Choose(
            keyword="enemy",
            picks=(Pick(id="humanoids", items=(choose("kind", "gnoll", "orc"), choose("language", "orc"))),),
        ),
        "enemy Humanoids (kinds Gnoll, Orc; language Orc)",
    ),
    (
        "boon Pact of the Tome (cantrips Light, Mage Hand, Guidance)",
        Choose(
            keyword="boon",
            picks=(Pick(id="pact-of-the-tome", items=(choose("cantrip", "light", "mage-hand", "guidance"),)),),
        ),
        None,
    ),
    (
        "invocations Book of Ancient Secrets (spells Alarm, Identify), Devil's Sight",
        Choose(
            keyword="invocation",
            picks=(
                Pick(id="book-of-ancient-secrets", items=(choose("spell", "alarm", "identify"),)),
                Pick(id="devils-sight"),
            ),
        ),
        None,
    ),
    ("+2 Dex", Increase(ability="dex", amount=2), None),
    (
        "+ 1 dex,+1 Wisdom",
        (Increase(ability="dex", amount=1), Increase(ability="wis", amount=1)),
        "+1 Dex, +1 Wis",
    ),
    ("feat Grappler", choose("feat", "grappler"), None),
    (
        "feat Grappler (+1 Str; skill Athletics)",
        Choose(
            keyword="feat",
            picks=(Pick(id="grappler", items=(Increase(ability="str", amount=1), choose("skill", "athletics"))),),
        ),
        None,
    ),
    ("carried", Flag(flag="carried"), None),
    ("Attuned", Flag(flag="attuned"), "attuned"),
    ("two handed", Flag(flag="two-handed"), "two-handed"),
    ("off-hand", Flag(flag="off-hand"), None),
    ("note low tide, at last", NoteItem(text="low tide, at last"), None),
    ('note "low; tide"', NoteItem(text="low; tide"), None),
    ("note skill Stealth", NoteItem(text="skill Stealth"), None),
    (
        "gain 2 Dagger, 20 Arrow",
        Gain(picks=(Pick(id="dagger", count=2), Pick(id="arrow", count=20))),
        "gain 2 Dagger, 20 Arrows",
    ),
    ("lose Shield", Lose(picks=(Pick(id="shield"),)), None),
    (
        "gain Rapier +1 (attuned), Wand of the War Mage +2",
        Gain(
            picks=(
                Pick(id="rapier", bonus=1, items=(Flag(flag="attuned"),)),
                Pick(id="wand-of-the-war-mage-2"),
            )
        ),
        None,
    ),
    (
        'gain Marsh Compass (custom), "Tide; Chart" (custom; carried), 3 Net Floats (custom)',
        Gain(
            picks=(
                Pick(id="Marsh Compass", items=(Flag(flag="custom"),)),
                Pick(id="Tide; Chart", items=(Flag(flag="custom"), Flag(flag="carried"))),
                Pick(id="Net Floats", count=3, items=(Flag(flag="custom"),)),
            )
        ),
        None,
    ),
    (
        'granted "harbour oath" feat Grappler',
        Granted(text="harbour oath", item=choose("feat", "grappler")),
        None,
    ),
    ('granted "tide" +2 Dex', Granted(text="tide", item=Increase(ability="dex", amount=2)), None),
    (
        'granted "the ""old"" oath" gain Rapier +1',
        Granted(text='the "old" oath', item=Gain(picks=(Pick(id="rapier", bonus=1),))),
        None,
    ),
    ("swap Shield for Sleep", Swap(keyword="spell", old=Pick(id="shield"), new=Pick(id="sleep")), None),
    ("swap Light for Mage Hand", Swap(keyword="cantrip", old=Pick(id="light"), new=Pick(id="mage-hand")), None),
    (
        "swap invocation Devil's Sight for Misty Visions",
        Swap(keyword="invocation", old=Pick(id="devils-sight"), new=Pick(id="misty-visions")),
        "swap Devil's Sight for Misty Visions",
    ),
]


@pytest.mark.parametrize(("text", "items", "out"), ITEMS, ids=[text for text, _, _ in ITEMS])
def test_items(text: str, items: Item | tuple[Item, ...], out: str | None) -> None:
    """Each item of the release: what is kept and what is printed, which reads the same again."""
    build = read(f"Build: Reed\n1 Fighter: {text}")
    wanted = items if isinstance(items, tuple) else (items,)
    assert build.levels["fighter"][1].items == wanted
    assert print_level(build, 1, RELEASE) == f"1 Fighter: {out or text}"
    # Behind another item it means the same.
    with_more = read(f"Build: Reed\n1 Fighter: skill Nature ; {text}")
    assert with_more.levels["fighter"][1].items == (choose("skill", "nature"), *wanted)


@pytest.mark.parametrize("id_", [spell.id for spell in RELEASE.every("spell")])
def test_every_spell_is_printed_bare_and_read_back(id_: str) -> None:
    """No spell of the release needs quotes behind its keyword."""
    found = parse_line(f"2 Wizard: spells {id_}, Shield", RELEASE)
    assert not isinstance(found, list), found
    build = Build(name="Reed", order=("wizard",), levels={"wizard": {1: found.line}})
    assert found.line.items == (choose("spell", id_, "shield"),)
    line = print_level(build, 1, RELEASE)
    assert line == f"1 Wizard: spells {RELEASE.name_of('spell', id_)}, Shield"
    assert parse_line(line, RELEASE) == parse_line(f"1 Wizard: spells {id_}, Shield", RELEASE)


def test_every_item_is_printed_and_read_back() -> None:
    """All items of the release in one line of gear, among them names with commas, parentheses and +N."""
    picks = tuple(Pick(id=item.id, count=1 + number % 3) for number, item in enumerate(RELEASE.every("item")))
    build = Build(name="Reed", gear=picks)
    assert len(picks) > 400
    assert parse_outline(print_outline(build, RELEASE), RELEASE) == build


# -- swaps ------------------------------------------------------------------------------------------------------


def test_swap_takes_its_kind_from_what_the_build_has() -> None:
    """A skill that is an expertise too is ambiguous: the error asks which, and the keyword answers."""
    text = "Build: Reed\n1 Rogue: skill Stealth; expertise Stealth\n2 Rogue: swap {}Stealth for Athletics"
    found = errors(text.format(""))
    assert [(e.line, e.column) for e in found] == [(3, 15)]
    assert found[0].sentence == (
        "what is swapped here may be of more than one kind; write `swap expertise …` or `swap skill …` to say which"
    )
    for keyword in ("skill", "expertise"):
        build = read(text.format(f"{keyword} "))
        assert build.levels["rogue"][2].items == (
            Swap(keyword=keyword, old=Pick(id="stealth"), new=Pick(id="athletics")),
        )
        assert print_level(build, 2, RELEASE) == f"2 Rogue: swap {keyword} Stealth for Athletics"


def test_learning_comes_before_swapping_on_one_line() -> None:
    """A pick of the same line is swapped under its keyword, whichever stands first."""
    for line in ("swap Fireball for Fly; secret Fireball", "secret Fireball; swap Fireball for Fly"):
        build = read(f"Build: Reed\n1 Bard: {line}")
        assert Swap(keyword="spell", old=Pick(id="fireball"), new=Pick(id="fly")) in build.levels["bard"][1].items


def test_swap_inside_an_invocation_carries_its_picks() -> None:
    """Both sides of a swap may have parentheses of their own."""
    build = read(
        "Build: Reed\n1 Warlock: invocation Devil's Sight\n"
        "2 Warlock: swap Devil's Sight for Book of Ancient Secrets (spells Alarm, Identify)"
    )
    (item,) = build.levels["warlock"][2].items
    assert isinstance(item, Swap)
    assert item.new == Pick(id="book-of-ancient-secrets", items=(choose("spell", "alarm", "identify"),))


# -- headers ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "out"),
    [
        ("Species: Hill Dwarf (tool Smith's Tools)", None),
        ("Race: hill dwarves", "Species: Hill Dwarf"),
        ("Race: Lightfoot", "Species: Lightfoot Halfling"),
        ("Species: High Elf (cantrip Fire Bolt; language Draconic)", None),
        ("Species: Dragonborn (dragon Red)", None),
        ("Background: Acolyte (languages Elvish, Dwarvish)", None),
        ("Background: Acolyte (custom; skills Insight, Persuasion)", None),
        ("Background: Marsh Guide ( Custom )", "Background: Marsh Guide (custom)"),
        ('Background: "Keeper; of: Light" (custom; feature Shelter of the Faithful)', None),
        ('Background: "Marsh Guide" (custom; +2 Int)', "Background: Marsh Guide (custom; +2 Int)"),
        (
            "Scores: Cha 12, Wis 14, Int 10, Con 13, Dex 15, Str 8",
            "Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (manual)",
        ),
        ("Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (rolled #12)", None),
        ("Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (rolled)", None),
        ("Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (point buy)", None),
        ("Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (final)", None),
        ("Gear: Chain Mail (carried), Shield +1, 20 Arrows, Marsh Compass (custom)", None),
        ("Gear: 20 arrow, 3 Torch", "Gear: 20 Arrows, 3 Torch"),
        ("Prepared: (Wizard) Shield, Sleep", None),
        ("Prepared: Shield", None),
        ('Concept: a scout, who; (never) "rests": +2', None),
        ("Note: 5 Rogue: skill Stealth", None),
        ('Note: "a note that goes on,"', None),
        ("Goal: skill.perception.passive >= 20 at 8", None),
        ("Goal: HP.max \u2265 60 by level 8", "Goal: hp.max >= 60 by 8"),
        ("Goal: save.wis >= -1 by 3", None),
        ("Goal: attack.rapier.to_hit >= 10 by 8", None),
        ("Goal: casting.ranger.save_dc >= 15 by 8", None),
        ("Goal: KNOWS hunters mark by 6", "Goal: knows Hunter's Mark by 6"),
        ("Goal: resists fire by 3", "Goal: resists Fire by 3"),
        ("Goal: proficient in thieves' tools by 1", "Goal: proficient in Thieves' Tools by 1"),
        ("Goal: proficient in Wisdom by 1", "Goal: proficient in Wisdom saves by 1"),
        ("Goal: proficient in Heavy Armor by 1", None),
        ("Goal: proficient in Martial Weapons by 1", None),
        ("Goal: proficient  in longswords by 1", "Goal: proficient in Longsword by 1"),
        ("Goal: proficient in Elvish by 1", None),
        ("Goal: check Stealth dc20>=50% at 8", "Goal: check Stealth dc 20 >= 50% at 8"),
        ("Goal: check Sleight of Hand DC 20 \u2265 50 % at level 8", "Goal: check Sleight of Hand dc 20 >= 50% at 8"),
        ('Goal: "be first ashore, by 3"', None),
    ],
)
def test_header_lines(written: str, out: str | None) -> None:
    """Each header line of the release as written and as printed."""
    assert printed(read(f"Build: Reed\n{written}")) == [out or written]


def test_goals_keep_what_they_measure() -> None:
    """Every form of goal as the document has it."""
    build = read(
        "Build: Reed\nGoal: ac >= 18 at 5\nGoal: slots.3 >= 2 by 5\nGoal: knows Fly by 9\nGoal: resists Cold by 3\n"
        'Goal: proficient in Dexterity saves by 1\nGoal: check Stealth dc 20 >= 50% at 8\nGoal: "be first"'
    )
    assert build.goals == (
        Goal(form="compare", name="ac", value=18, when="at", level=5),
        Goal(form="compare", name="slots.3", value=2, level=5),
        Goal(form="knows", name="fly", level=9),
        Goal(form="resists", name="cold", level=3),
        Goal(form="proficient", name="dex", level=1),
        Goal(form="check", name="stealth", value=50, dc=20, when="at", level=8),
        Goal(form="text", text="be first"),
    )


# -- errors -----------------------------------------------------------------------------------------------------

WRONG = """\
> Build: Reed
> Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 31 (standard array)
> Species: Half Elv
> Background: Marsh Guide (skill Insight)
> Gear: Rapeir, Leather Armor, Shortbo
> Goal: skill.percepton.passive >= 20 at 8
> Goal: knows Huntr Mark by 21
> 1 Rogue hp 8: skills Percption, Stealth, Acrobatic
> 2 Rouge
> 3 Rogue (Theif): expertize Stealth
> 3-4 Rogue hp 3
> 7 Ranger: spells Hunter's Mark, Fog Clod; +2 Wiz
> 21 Ranger
> Speed: 30
"""


def test_every_error_of_a_text_comes_at_once_with_its_place() -> None:
    """Line and column are those of the text as given; the nearest known name comes first."""
    found = [(e.line, e.column, e.nearest[:1]) for e in errors(WRONG)]
    assert found == [
        (2, 50, ()),
        (3, 12, ("Half-Elf",)),
        (4, 15, ()),
        (5, 9, ("Rapier",)),
        (5, 32, ("Shortbow",)),
        (6, 9, ("skill.perception",)),
        (7, 15, ("Hunter's Mark",)),
        (8, 11, ()),
        (8, 24, ("Perception",)),
        (9, 5, ("Rogue",)),
        (10, 12, ("Thief",)),
        (10, 20, ("expertise",)),
        (11, 3, ()),
        (11, 13, ()),
        (12, 3, ()),
        (12, 35, ("Fog Cloud",)),
        (12, 48, ("Wis",)),
        (13, 3, ()),
        (14, 3, ("Species",)),
    ]


def test_each_error_is_one_plain_sentence() -> None:
    """No line feeds, no names of the program's own parts, and it says what was expected."""
    for error in errors(WRONG):
        assert "\n" not in error.sentence
        assert error.expected
        assert error.sentence.count(". ") == 0
        assert not re.search(r"Traceback|Error\b|Exception|None\b|pydantic|\bloc\b|_", error.sentence)
        assert str(error) == f"{error.line}:{error.column}: {error.sentence}"
        for name in error.nearest:
            assert name in error.sentence


def test_levels_that_skip_or_come_again_are_told_once_each() -> None:
    """After a gap the count goes on from what was written."""
    found = errors("Build: Reed\n1 Rogue\n3 Rogue\n4 Rogue\n4 Rogue\n2 Rogue\n3-5 Rogue")
    assert [(e.line, e.sentence.partition(";")[0]) for e in found] == [
        (3, "level 3 comes too early"),
        (5, "level 4 comes again"),
        (6, "level 2 comes again"),
    ]


def test_unknown_rules_and_folios_are_named(tmp_path: Path) -> None:
    """The finder of the program says what is loaded; the error stands where the name is written."""
    rules = parse_outline("Build: Reed\nRules: Tide 3\n1 Rogue", catalog_for)
    folios = parse_outline("Build: Reed\n  Folios: Marsh Lore", catalog_for)
    assert isinstance(rules, list)
    assert isinstance(folios, list)
    assert [(e.line, e.column) for e in (*rules, *folios)] == [(2, 8), (2, 11)]
    assert "SRD 5.1" in rules[0].sentence
    assert "marsh-lore" in folios[0].sentence


@pytest.mark.parametrize(
    ("before", "dropped"),
    [
        ("note \u201clow \u2014 tide\u201d; ", 0),  # one character for one
        ("note e\u0301lan; ", 1),  # two that are composed to one
        ("note low\u200btide\ufeff; ", 2),  # marks nobody sees
    ],
)
def test_columns_count_the_characters_that_were_typed(before: str, dropped: int) -> None:
    """An error behind characters that are composed or dropped stands where the text as given has it."""
    text = f"Build: Reed\n1 Rogue: {before}skill Stelth"
    (error,) = errors(text)
    line = text.splitlines()[1]
    assert (error.line, error.column) == (2, line.index("Stelth") + 1)
    assert "Stealth" in error.nearest
    assert len(line) - dropped == len(plain(line))


def test_content_that_is_gone_is_printed_by_id() -> None:
    """Ids that no folio knows stand as they are, quoted where they are no plain ids; nothing fails."""
    lost = (
        Choose(keyword="tide-call", picks=(Pick(id="ebb"), Pick(id="Ebb; Flow"))),
        Swap(keyword="tide-call", old=Pick(id="ebb"), new=Pick(id="flow")),
    )
    build = Build(name="Reed", order=("rogue",), levels={"rogue": {1: Line(subclass="wrecker", items=lost)}})
    assert print_level(build, 1, RELEASE) == (
        '1 Rogue (wrecker): tide-call ebb, "Ebb; Flow"; swap tide-call "ebb" for flow'
    )
