"""Every form of the outline: what is read, and how it is printed."""

import textwrap

import pytest

from engine.build.document import (
    Build,
    Choose,
    Flag,
    FolioUse,
    Gain,
    Goal,
    Granted,
    Increase,
    Line,
    NoteItem,
    Pick,
    Swap,
)
from engine.build.outline import (
    parse_line,
    parse_outline,
    print_header,
    print_level,
    print_outline,
    replace_header,
    replace_level,
)
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.store.folio_files import load_shipped
from tests.engine.build.small_folio import both_catalog, folio, harbour_files, small_catalog

SMALL = small_catalog()
BOTH = both_catalog()

EXAMPLE = """\
Build: Reed Warden
Concept: a marsh scout whom nothing takes by surprise
Rules: SRD 5.1
Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (standard array)
Species: Half-Elf (+1 Dex, +1 Wis; skills Survival, Nature; language Goblin)
Background: Marsh Guide (custom; skills Insight, Persuasion; languages Giant, Halfling; feature Shelter of the Faithful)
Gear: Leather Armor, Rapier, Shortbow, 20 Arrows
Goal: skill.perception.passive >= 20 at 8
1 Rogue: skills Perception, Stealth, Acrobatics, Investigation; expertise Perception, Stealth
2 Rogue
3 Rogue (Thief)
4 Rogue: +1 Dex, +1 Wis
5 Ranger: skill Athletics; enemy Beasts; terrain Swamp
6 Ranger: style Archery; spells Hunter's Mark, Speak with Animals
7 Ranger (Hunter): spell Fog Cloud; prey Colossus Slayer
8 Ranger hp 7: +2 Wis; swap Fog Cloud for Longstrider
"""


@pytest.fixture(scope="module")
def shipped() -> Catalog:
    """The catalogue of the shipped rules release."""
    return Catalog([load_shipped("srd-5.1")])


def read(text: str, catalog: Catalog = SMALL) -> Build:
    """Return the build of an outline that must be good."""
    found = parse_outline(textwrap.dedent(text), catalog)
    assert isinstance(found, Build), "\n".join(map(str, found))
    return found


def line(text: str, catalog: Catalog = SMALL) -> Line:
    """Return one level line that must be good."""
    found = parse_line(text, catalog)
    assert not isinstance(found, list), "\n".join(map(str, found))
    return found.line


def test_example_reads_and_prints_itself(shipped: Catalog) -> None:
    """The build of outline.md comes back to the letter, indented or not."""
    build = read(EXAMPLE, shipped)
    assert print_outline(build, shipped) == EXAMPLE
    assert parse_outline(textwrap.indent(EXAMPLE, "      "), shipped) == build
    assert build.order == ("rogue",) * 4 + ("ranger",) * 4
    assert build.levels["ranger"][4] == Line(
        hp=7,
        items=(
            Increase(ability="wis", amount=2),
            Swap(keyword="spell", old=Pick(id="fog-cloud"), new=Pick(id="longstrider")),
        ),
    )
    assert build.background is not None
    assert build.background.name == "Marsh Guide"
    assert build.background.items[2] == Choose(keyword="feature", picks=(Pick(id="shelter-of-the-faithful"),))
    assert build.gear[3] == Pick(id="arrow", count=20)
    assert build.goals == (Goal(form="compare", name="skill.perception.passive", value=20, when="at", level=8),)


def test_characters_of_the_way_here_are_plain() -> None:
    """Byte-order mark, CRLF, tabs, indentation, `>`, fences, curly quotes, minus and long dashes change nothing."""
    plain = 'Build: Reed\'s "Ward" - two\n1 Rogue\n2-3 Rogue\n4 Rogue: +2 Dex; note a - b\n'
    pasted = (
        "\ufeff```text\r\n> \tBuild:\u00a0Reed’s “Ward” — two\r\n"
        ">> 1\tRogue\r\n  > 2–3 Rogue\r\n4 Rogue: +2 Dex; note a − b\r\n```\r\n"
    )
    assert read(pasted) == read(plain)
    assert read("```Build: Reed\n1 Rogue```") == read("Build: Reed\n1 Rogue")
    assert read("Build: E\u0301lan").name == "\u00c9lan"


def test_lines_that_end_in_comma_or_semicolon_go_on() -> None:
    """Comments and blank lines in between are dropped; raw texts may end in a comma by quotes."""
    build = read(
        """
        # a comment
        Build: Reed
        Gear: Rapier,

          # another
          2 Dagger (carried)
        1 Rogue: skills Stealth,
           Perception;
           note low tide
        """
    )
    assert [pick.id for pick in build.gear] == ["rapier", "2-dagger"]
    assert build.levels["rogue"][1].items[1] == NoteItem(text="low tide")
    assert read('Build: Reed\nConcept: "a scout,"\n1 Rogue').concept == "a scout,"
    assert read('Build: Reed\nConcept: "a scout"').concept == '"a scout"'
    assert read("Build: Reed\nConcept: a scout,\nGear: Rapier").gear == (Pick(id="rapier"),)


def test_headers_come_in_any_order_and_some_repeat() -> None:
    """Gear, Prepared, Goal and Note add up; keys are case-free; Race is Species."""
    build = read(
        """
        1 Wizard: spells Shield, Fog Cloud
        note: first
        GEAR: Rapier
        Race: Hill Dwarf
        Gear: Shortbow
        Note: second
        goal: "walk unseen"
        Goal: knows Shield by 3
        Prepared: (Wizard) Shield
        Prepared: Fog Cloud
        Build: Reed
        """
    )
    assert build.species is not None
    assert (build.species.id, build.notes) == ("hill-dwarf", ("first", "second"))
    assert [pick.id for pick in build.gear] == ["rapier", "shortbow"]
    assert [(p.of, p.picks[0].id) for p in build.prepared] == [("wizard", "shield"), (None, "fog-cloud")]
    assert [goal.form for goal in build.goals] == ["text", "knows"]


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("skill Stealth", Choose(keyword="skill", picks=(Pick(id="stealth"),))),
        ("SKILLS stealth", Choose(keyword="skill", picks=(Pick(id="stealth"),))),
        ("expertise Thieves' Tools", Choose(keyword="expertise", picks=(Pick(id="thieves-tools"),))),
        ("tools Vehicles (Land or Water)", Choose(keyword="tool", picks=(Pick(id="vehicles-land-or-water"),))),
        ("languages Giants", Choose(keyword="language", picks=(Pick(id="giant"),))),
        ("copied Shield", Choose(keyword="copied", picks=(Pick(id="shield"),))),
        ("secrets Shield, Ward", Choose(keyword="secret", picks=(Pick(id="shield"), Pick(id="ward")))),
        ("prepare Shield", Choose(keyword="prepare", picks=(Pick(id="shield"),))),
        ("spells (Wizard) Shield", Choose(keyword="spell", of="wizard", picks=(Pick(id="shield"),))),
        ("styles Archery", Choose(keyword="style", picks=(Pick(id="archery"),))),
        ("metamagic Twinned Spell", Choose(keyword="metamagic", picks=(Pick(id="twinned-spell"),))),
        ("dragon Red", Choose(keyword="dragon", picks=(Pick(id="red"),))),
        ("mastery Longsword, Push", Choose(keyword="mastery", picks=(Pick(id="longsword"), Pick(id="push")))),
        ("sea oath Oath of Ebb", Choose(keyword="sea-oath", picks=(Pick(id="oath-of-ebb"),))),
        ("Sea-Oaths Oath of Ebb", Choose(keyword="sea-oath", picks=(Pick(id="oath-of-ebb"),))),
        ("ability Int", Choose(keyword="ability", picks=(Pick(id="int"),))),
        ("ability Intelligence", Choose(keyword="ability", picks=(Pick(id="int"),))),
        ("spell Ward for Two", Choose(keyword="spell", picks=(Pick(id="ward-for-two"),))),
        ("spell Ward, Greater", Choose(keyword="spell", picks=(Pick(id="ward-greater"),))),
        ('spell "Ward", Greater', Choose(keyword="spell", picks=(Pick(id="ward"), Pick(id="greater")))),
        ('spell "The ""Quiet"" Tide"', Choose(keyword="spell", picks=(Pick(id="the-quiet-tide"),))),
        ("spell elan", Choose(keyword="spell", picks=(Pick(id="elan"),))),
        (
            "enemy Giants (language Giant)",
            Choose(
                keyword="enemy",
                picks=(Pick(id="giants", items=(Choose(keyword="language", picks=(Pick(id="giant"),)),)),),
            ),
        ),
        ("two-handed", Flag(flag="two-handed")),
        ("Off-Hand", Flag(flag="off-hand")),
        ("note salt (and foam), twice", NoteItem(text="salt (and foam), twice")),
        ('note "salt; foam"', NoteItem(text="salt; foam")),
        ('note "salt" she said', NoteItem(text='"salt" she said')),
        ("gain Rapier +1, 20 Arrows", Gain(picks=(Pick(id="rapier", bonus=1), Pick(id="arrow", count=20)))),
        ("gain Ammunition, +1 +2", Gain(picks=(Pick(id="ammunition-1", bonus=2),))),
        ('gain 2 "Dagger" (carried)', Gain(picks=(Pick(id="dagger", count=2, items=(Flag(flag="carried"),)),))),
        ("gain Tide Chart (custom)", Gain(picks=(Pick(id="Tide Chart", items=(Flag(flag="custom"),)),))),
        (
            'granted "harbour oath" feat Grappler',
            Granted(text="harbour oath", item=Choose(keyword="feat", picks=(Pick(id="grappler"),))),
        ),
    ],
)
def test_items(text: str, item: object) -> None:
    """Each item reads as it should, and what is printed for it reads the same."""
    found = line(f"2 Rogue: {text}")
    assert found.items == (item,)
    build = Build(name="Reed", order=("rogue",), levels={"rogue": {1: found}})
    assert parse_outline(print_outline(build, SMALL), SMALL) == build


def test_choices_nest_three_deep() -> None:
    """The example of the outline for releases whose backgrounds bring feats and increases."""
    build = read(
        """
        Build: Reed
        Background: Sage (+2 Int, +1 Con; feat Magic Initiate (ability Int; cantrips Light, Mage Hand; spell Shield))
        1 Wizard: boon Pact of the Tome (cantrips Light, Mage Hand, Fire Bolt); invocations Sea Lore (cantrip Light),
          Eyes of the Tide
        """
    )
    assert build.background is not None
    assert build.background.items[:2] == (Increase(ability="int", amount=2), Increase(ability="con", amount=1))
    feat = build.background.items[2]
    assert isinstance(feat, Choose)
    assert [i.keyword for i in feat.picks[0].items if isinstance(i, Choose)] == ["ability", "cantrip", "spell"]
    boon, invocations = build.levels["wizard"][1].items
    assert isinstance(boon, Choose)
    assert isinstance(invocations, Choose)
    cantrips = boon.picks[0].items[0]
    assert isinstance(cantrips, Choose)
    assert len(cantrips.picks) == 3
    assert [pick.id for pick in invocations.picks] == ["sea-lore", "eyes-of-the-tide"]


def test_ranges_hold_many_levels_and_print_where_nothing_stands() -> None:
    """A range prints for adjacent lines of one class with nothing on them."""
    build = read("Build: Reed\n1-3 Rogue (Thief)\n4 Rogue: +2 Dex\n5-7 Ranger\n8 Rogue")
    assert build.order == ("rogue",) * 4 + ("ranger",) * 3 + ("rogue",)
    assert build.levels["rogue"][1] == Line(subclass="thief")
    assert print_outline(build, SMALL).splitlines()[2:] == [
        "1 Rogue (Thief)",
        "2-3 Rogue",
        "4 Rogue: +2 Dex",
        "5-7 Ranger",
        "8 Rogue",
    ]


def test_subclass_of_two_classes_is_that_of_the_line() -> None:
    """Ranger and wizard both have a Warden; a harbour class has a Thief too."""
    build = read("Build: Reed\n1 Ranger (Warden)\n2 Wizard (Warden)\n3 Rogue (Thief)\n4 Rogue (ranger-warden)", SMALL)
    assert [found.subclass for _, _, _, found in build.lines()] == [
        "ranger-warden",
        "wizard-warden",
        "thief",
        "ranger-warden",
    ]
    assert parse_outline(print_outline(build, SMALL), SMALL) == build
    assert line("3 Coast Pilot (Thief)", BOTH).subclass == "harbour/thief"


@pytest.mark.parametrize(
    ("text", "goal"),
    [
        ("hp.max >= 60 by 8", Goal(form="compare", name="hp.max", value=60, level=8)),
        ("save.wis ≥ -1 at level 3", Goal(form="compare", name="save.wis", value=-1, when="at", level=3)),
        ("Skill.Stealth >= +7 at 4", Goal(form="compare", name="skill.stealth", value=7, when="at", level=4)),
        ("knows Ward for Two by 9", Goal(form="knows", name="ward-for-two", level=9)),
        ('knows "Harbour by 7" by 7', Goal(form="knows", name="harbour-by-7", level=7)),
        ("resists Cold, bitter by 3", Goal(form="resists", name="cold-bitter", level=3)),
        ("proficient in Thieves' Tools by 1", Goal(form="proficient", name="thieves-tools", level=1)),
        ("proficient in Wisdom saves by 1", Goal(form="proficient", name="wis", level=1)),
        (
            "check Sleight of Hand dc 20 >= 50% at 8",
            Goal(form="check", name="sleight-of-hand", dc=20, value=50, when="at", level=8),
        ),
        ('"be ""first"" ashore"', Goal(form="text", text='be "first" ashore')),
    ],
)
def test_goals(text: str, goal: Goal) -> None:
    """Every form of goal is read and printed."""
    build = read(f"Build: Reed\nGoal: {text}")
    assert build.goals == (goal,)
    assert parse_outline(print_outline(build, SMALL), SMALL) == build


@pytest.mark.parametrize(
    ("text", "method", "roll"),
    [
        ("(standard array)", "standard-array", None),
        ("(Point-Buy)", "point-buy", None),
        ("(rolled)", "rolled", None),
        ("(rolled #12)", "rolled", 12),
        ("(manual)", "manual", None),
        ("(final)", "final", None),
        ("", "manual", None),
    ],
)
def test_ways_of_making_scores(text: str, method: str, roll: int | None) -> None:
    """Abilities in any order and by either name; no method means by hand."""
    build = read(f"Build: Reed\nScores: Wisdom 14, str 8, Dex 15, Con 13, Int 10, Cha 12 {text}")
    assert build.scores is not None
    assert build.scores.values == {"str": 8, "dex": 15, "con": 13, "int": 10, "wis": 14, "cha": 12}
    assert (build.scores.method, build.scores.roll) == (method, roll)


# -- swaps ------------------------------------------------------------------------------------------------------


def swap(text: str, before: str = "") -> Swap:
    """Return the swap of a second level line."""
    build = read(f"Build: Reed\n1 Wizard{before}\n2 Wizard: {text}")
    return next(item for item in build.levels["wizard"][2].items if isinstance(item, Swap))


def test_swap_takes_its_kind_from_the_build() -> None:
    """The same name may be a spell or an invocation; what was picked before decides, also on the same line."""
    assert swap("swap Sea Lore for Eyes of the Tide", ": invocation Sea Lore").keyword == "invocation"
    assert swap("swap Sea Lore for Shield", ": spell Sea Lore").keyword == "spell"
    assert swap("swap Sea Lore for Shield; spell Sea Lore").keyword == "spell"
    assert swap("swap Light for Mage Hand", ": boon Pact of the Tome (cantrip Light)").keyword == "cantrip"
    assert swap("swap Ward for Two for Ward", ": secret Ward for Two").keyword == "spell"
    assert swap("swap Longstrider for Shield").keyword == "spell"
    assert swap("swap Light for Mage Hand").keyword == "cantrip"
    assert swap("swap Archery for Defense").keyword == "style"


def test_swap_that_fits_two_kinds_asks() -> None:
    """A name that the build holds as two things needs its keyword."""
    text = "Build: Reed\n1 Wizard: spell Sea Lore; invocation Sea Lore\n2 Wizard: swap {}Sea Lore for Shield"
    errors = parse_outline(text.format(""), SMALL)
    assert isinstance(errors, list)
    assert [(e.line, e.column) for e in errors] == [(3, 16)]
    assert "`swap invocation …` or `swap spell …`" in errors[0].sentence
    build = read(text.format("spell "))
    assert print_level(build, 2, SMALL) == "2 Wizard: swap spell Sea Lore for Shield"


def test_swap_keyword_is_printed_only_where_needed() -> None:
    """A thing that was swapped away no longer counts; names that begin like a keyword are quoted."""
    build = read(
        "Build: Reed\n1 Wizard: spell Sea Lore\n2 Wizard: swap Sea Lore for Shield; invocation Eyes of the Tide\n"
        "3 Wizard: invocation Sea Lore\n4 Wizard: swap Sea Lore for Eyes of the Tide"
    )
    assert print_level(build, 4, SMALL) == "4 Wizard: swap Sea Lore for Eyes of the Tide"
    named = read('Build: Reed\n1 Wizard: spells "spell Ward", Ward\n2 Wizard: swap "spell Ward" for Shield')
    assert print_level(named, 2, SMALL) == '2 Wizard: swap "spell Ward" for Shield'
    assert parse_outline(print_outline(named, SMALL), SMALL) == named


# -- folios and rules -------------------------------------------------------------------------------------------


def test_folios_by_title_or_id_carry_version_and_hash() -> None:
    """A name that two folios give is written `folio/name`."""
    harbour = BOTH.folios[1]
    build = read('Build: Reed\nRules: srd-5.1\nFolios: "Harbour Guild, 2nd"\n1 Wizard: spells harbour/Fog Cloud', BOTH)
    assert build.folios == (FolioUse(id="harbour", version="3", hash=harbour.hash),)
    assert build.levels["wizard"][1].items[0] == Choose(keyword="spell", picks=(Pick(id="harbour/fog-cloud"),))
    text = print_outline(build, BOTH)
    assert 'Folios: "Harbour Guild, 2nd"' in text
    assert "spell harbour/Fog Cloud" in text
    assert read("Build: Reed\nFolios: harbour\n1 Wizard: spell srd-5.1/fog cloud", BOTH).levels["wizard"][1].items[
        0
    ] == Choose(keyword="spell", picks=(Pick(id="fog-cloud"),))
    older = read('Build: Reed\nFolios: harbour (version 2; hash "ab")', BOTH)
    assert older.folios == (FolioUse(id="harbour", version="2", hash="ab"),)
    assert parse_outline(print_outline(older, BOTH), BOTH) == older


def test_catalogue_is_found_by_what_the_text_names() -> None:
    """The finder is asked for ids, and may refuse."""
    asked: list[tuple[str, tuple[str, ...]]] = []

    def find(rules: str, folios: tuple[str, ...]) -> Catalog | Refused:
        asked.append((rules, folios))
        return BOTH if set(folios) <= {"harbour"} else Refused("no-such-folio", "There is no folio `tidal`.")

    assert isinstance(parse_outline("Build: Reed\nRules: SRD 5.1\nFolios: Harbour\n1 Coast Pilot", find), Build)
    assert isinstance(parse_outline("Build: Reed", find), Build)
    errors = parse_outline("Build: Reed\nFolios: Tidal", find)
    assert isinstance(errors, list)
    assert [(e.line, e.column, e.sentence) for e in errors] == [(2, 9, "There is no folio `tidal`.")]
    assert asked == [("srd-5.1", ("harbour",)), ("srd-5.1", ()), ("srd-5.1", ("tidal",))]


def test_missing_content_is_printed_by_id() -> None:
    """A stored build keeps ids that no folio knows any more; entering them anew is refused."""
    with_harbour = read("Build: Reed\nFolios: harbour\n1 Coast Pilot: spell Foghorn", BOTH)
    text = print_outline(with_harbour, SMALL)
    assert 'Folios: harbour (version "3"; hash' in text
    assert "1 coast-pilot: spell foghorn" in text
    assert isinstance(parse_outline(text, SMALL), list)


def test_folio_does_not_redefine_a_keyword() -> None:
    """The small release has a choice list `language`, yet the keyword means languages."""
    assert isinstance(parse_line("1 Rogue: language Signal Flags", SMALL), list)


# -- the edit forms ---------------------------------------------------------------------------------------------


def test_replace_header_keeps_levels() -> None:
    """What the new header leaves out is gone."""
    build = read("Build: Reed\nConcept: a scout\nGear: Rapier\n1 Rogue: skill Stealth\n2 Rogue")
    changed = replace_header(build, "Build: Reed\nSpecies: Human", SMALL)
    assert changed == read("Build: Reed\nSpecies: Human\n1 Rogue: skill Stealth\n2 Rogue")
    errors = replace_header(build, "Build: Reed\n1 Rogue", SMALL)
    assert isinstance(errors, list)
    assert errors[0].line == 2
    assert print_header(build, SMALL) == "Build: Reed\nConcept: a scout\nRules: SRD 5.1\nGear: Rapier\n"


def test_replace_level_moves_later_lines_with_their_class() -> None:
    """A line of another class in the middle leaves every later line on its level."""
    build = read("Build: Reed\n1 Rogue\n2 Rogue: skill Stealth\n3 Rogue (Thief)")
    changed = replace_level(build, 2, "2 Ranger hp 4", SMALL)
    assert changed == read("Build: Reed\n1 Rogue\n2 Ranger hp 4\n3 Rogue (Thief)")
    longer = replace_level(build, 4, "4 Rogue: +2 Dex", SMALL)
    assert longer == read("Build: Reed\n1 Rogue\n2 Rogue: skill Stealth\n3 Rogue (Thief)\n4 Rogue: +2 Dex")
    shorter = replace_level(build, 3, " ", SMALL)
    assert shorter == read("Build: Reed\n1 Rogue\n2 Rogue: skill Stealth")


@pytest.mark.parametrize(
    ("level", "text", "part"),
    [
        (2, "3 Rogue", "only the line of level 2"),
        (2, "2-3 Rogue", "only the line of level 2"),
        (2, "", "one level line"),
        (2, "2 Rogue\n3 Rogue", "nothing else"),
        (2, "Gear: Rapier", "one level line"),
        (5, "5 Rogue", "neither one of them nor the next"),
        (0, "1 Rogue", "neither one of them nor the next"),
        (2, "2 Rouge", "nearest: Rogue"),
        (2, "2 Rogue\0", "binary"),
    ],
)
def test_replace_level_refuses(level: int, text: str, part: str) -> None:
    """The form takes the line of its own level and nothing else."""
    build = read("Build: Reed\n1 Rogue\n2 Rogue\n3 Rogue")
    errors = replace_level(build, level, text, SMALL)
    assert isinstance(errors, list)
    assert part in errors[0].sentence


def test_class_made_first_leaves_rolls_on_their_levels() -> None:
    """The line of Ranger 1 is the new one; the one that was there is Ranger 2 now."""
    changed = replace_level(read("Build: Reed\n1 Rogue\n2 Ranger hp 4"), 1, "1 Ranger", SMALL)
    assert isinstance(changed, Build)
    assert changed.levels == {"ranger": {2: Line(hp=4)}}


def test_print_level_needs_a_level_of_the_build() -> None:
    """A level beyond the build is the caller's mistake."""
    with pytest.raises(ValueError, match="no level 2"):
        print_level(read("Build: Reed\n1 Rogue"), 2, SMALL)


def test_twenty_levels_are_read_in_milliseconds(shipped: Catalog) -> None:
    """Common practice, no source: a form must answer at once; the bound is generous for slow machines."""
    import timeit

    text = EXAMPLE + "".join(f"{level} Ranger: spells Fog Cloud, Longstrider; note tide\n" for level in range(9, 21))
    read(text, shipped)
    assert min(timeit.repeat(lambda: parse_outline(text, shipped), number=1, repeat=5)) < 0.05


def test_harbour_alone_is_no_release() -> None:
    """The helper folio extends the release and cannot stand first."""
    with pytest.raises(ValueError, match="rules release first"):
        Catalog([folio(harbour_files())])
