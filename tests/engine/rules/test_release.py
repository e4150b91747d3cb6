"""The release-wide rules of folio srd-5.1, and that everything the folio names is there.

Sources: SRD 5.1, Beyond 1st Level, Character Advancement; Multiclassing, Spell Slots (both by way of
tests/reference); Using Ability Scores, Skills; Languages; Combat, Damage Types; Monsters, Type. Ways of making scores:
SRD 5.2.1, Character Creation.
"""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

import engine
from engine.rules.catalog import Catalog
from engine.rules.content import ChoiceList, ClassContent, Entry, Item
from engine.rules.content.background import Background
from engine.rules.formula import Formula
from engine.rules.grants import GRANT_KINDS, GrantBase
from engine.rules.grants.attacks import SpellDamage
from engine.rules.grants.casting import ExtraSpells, Spellcasting
from engine.rules.grants.choices import Choice
from engine.rules.grants.proficiencies import Expertise, Proficiency
from engine.rules.words import ABILITIES
from engine.store.folio_files import load_shipped
from tests.engine.rules.believed import text_only

FOLIO = load_shipped("srd-5.1")
CATALOG = Catalog([FOLIO])
RELEASE = CATALOG.release

SKILLS = {
    "str": {"athletics"},
    "dex": {"acrobatics", "sleight-of-hand", "stealth"},
    "int": {"arcana", "history", "investigation", "nature", "religion"},
    "wis": {"animal-handling", "insight", "medicine", "perception", "survival"},
    "cha": {"deception", "intimidation", "performance", "persuasion"},
}
STANDARD = {"common", "dwarvish", "elvish", "giant", "gnomish", "goblin", "halfling", "orc"}
EXOTIC = {"abyssal", "celestial", "draconic", "deep-speech", "infernal", "primordial", "sylvan", "undercommon"}


def test_advancement() -> None:
    rows = [text_only("advancement")[f"{level:02}"] for level in range(1, 21)]
    assert list(RELEASE.proficiency_bonus) == [row["proficiency_bonus"] for row in rows]
    assert list(RELEASE.experience) == [row["experience"] for row in rows]


def test_multiclass_slots() -> None:
    for level, row in enumerate(RELEASE.slots, 1):
        printed = text_only("multiclass-slots")[f"{level:02}"]["slots"]
        assert [*row, *[0] * (9 - len(row))] == printed, level


def test_ways_of_making_scores() -> None:
    scores = RELEASE.scores
    assert scores.standard_array == (15, 14, 13, 12, 10, 8)
    assert scores.points == 27
    assert scores.point_costs == {8: 0, 9: 1, 10: 2, 11: 3, 12: 4, 13: 5, 14: 7, 15: 9}
    assert sum(scores.point_costs[s] for s in scores.standard_array) == scores.points
    assert "SRD 5.2.1" in scores.section


def test_skills_and_languages() -> None:
    found: dict[str, set[str]] = {}
    for skill in RELEASE.skills:
        found.setdefault(skill.ability, set()).add(skill.id)
    assert found == SKILLS
    groups = {group: {w.id for w in RELEASE.languages if group in w.groups} for group in ("standard", "exotic")}
    assert groups == {"standard": STANDARD, "exotic": EXOTIC}
    assert {w.id for w in RELEASE.languages if "secret" in w.groups} == {"druidic", "thieves-cant"}


def test_damage_types_and_kinds_of_creatures() -> None:
    assert {w.id for w in RELEASE.damage_types} == {
        "acid", "bludgeoning", "cold", "fire", "force", "lightning", "necrotic", "piercing", "poison", "psychic",
        "radiant", "slashing", "thunder",
    }  # fmt: skip
    assert len(RELEASE.creature_types) == 14
    assert {"gnoll", "orc"} <= {w.id for w in RELEASE.humanoid_kinds}


def test_small_rules() -> None:
    # SRD 5.1, Lifting and Carrying; Variant: Encumbrance; Armor, Heavy Armor. Attunement: three items at most
    # (rule section of the open data set; reference NOTES, A3). Customizing a Background.
    assert (RELEASE.carry_per_strength, RELEASE.variant_encumbrance, RELEASE.armor_strength_speed) == (15, (5, 10), -10)
    assert RELEASE.attunement == 3
    assert (RELEASE.species_word, RELEASE.increases_from) == ("Race", "species")
    custom = RELEASE.custom_background
    assert (custom.skills, custom.tools_and_languages, custom.feature) == (2, 2, True)


def test_every_section_key_that_the_program_uses_is_listed() -> None:
    used: set[str] = set()
    root = Path(engine.__file__).parent
    for path in [*root.rglob("*.py"), *root.parent.joinpath("bot").rglob("*.py")]:
        used |= set(re.findall(r"\.rule\(\s*[\"']([a-z0-9-]+)[\"']\s*\)", path.read_text(encoding="utf-8")))
    assert used <= RELEASE.sections.keys(), used - RELEASE.sections.keys()


# -- what the folio names is there ------------------------------------------------------------------------------


def parts(of: Any) -> Iterator[BaseModel]:
    """Every model inside an entry, the entry included."""
    if isinstance(of, BaseModel):
        yield of
        for name in type(of).model_fields:
            yield from parts(getattr(of, name))
    elif isinstance(of, (tuple, list)):
        for each in of:
            yield from parts(each)
    elif isinstance(of, dict):
        for each in of.values():
            yield from parts(each)


def formulas(of: BaseModel) -> Iterator[Formula]:
    for name in type(of).model_fields:
        if isinstance(found := getattr(of, name), Formula):
            yield found


def everything() -> list[tuple[str, Entry]]:
    return list(FOLIO.all())


def known(kind: str) -> set[str]:
    return {named.id for named in CATALOG.every(kind)}


ENTRIES = everything()
GRANTS: list[tuple[str, GrantBase]] = [
    (f"{kind} {entry.id}", part) for kind, entry in ENTRIES for part in parts(entry) if isinstance(part, GrantBase)
]
GROUPS = {g for named in CATALOG.every("item") if isinstance(named.entry, Item) for g in named.entry.groups}


def test_the_walk_over_the_folio_finds_its_grants() -> None:
    # What the tests below look at: hundreds of grants, of nearly every kind.
    assert len(GRANTS) > 400
    missing = set(GRANT_KINDS) - {str(getattr(grant, "kind", "")) for _, grant in GRANTS}
    assert len(missing) < 8, missing


def test_proficiencies_name_what_is_there() -> None:
    items = known("item")
    allowed: dict[str, set[str]] = {
        "skill": known("skill"),
        "save": set(ABILITIES),
        "weapon": items | known("weapon-group"),
        "armor": items | known("armor-group"),
        "tool": known("tool") | GROUPS,
        "language": known("language"),
    }
    for where, grant in GRANTS:
        if isinstance(grant, Proficiency):
            assert set(grant.ids) <= allowed[grant.of], where
        elif isinstance(grant, Expertise):
            assert set(grant.ids) <= allowed["skill"] | allowed["tool"], where


def test_spells_that_are_granted_are_there() -> None:
    spells, classes = known("spell"), known("class")
    for where, grant in GRANTS:
        if isinstance(grant, ExtraSpells):
            assert {spell.id for spell in grant.spells} <= spells, where
        elif isinstance(grant, SpellDamage):
            assert set(grant.spells) <= spells, where
        elif isinstance(grant, Spellcasting):
            assert grant.list in classes, where


def test_choices_name_what_is_there() -> None:
    for where, grant in GRANTS:
        if not isinstance(grant, Choice):
            continue
        allowed: set[str] = set()
        match grant.keyword:
            case "skill" | "language" | "tool" | "feat":
                allowed = known(grant.keyword) | GROUPS
            case "expertise":
                allowed = known("skill") | known("tool")
            case "increase":
                allowed = set(ABILITIES)
            case keyword if CATALOG.choice_list(keyword) is not None:
                allowed = known(f"option:{keyword}")
            case "kind":
                allowed = known("humanoid-kind")
            case _:
                allowed = known("spell")
        assert {*grant.from_, *grant.but} <= allowed, f"{where}: {grant.keyword}"
        assert grant.list is None or grant.list in known("class"), where


def test_formulas_name_what_is_there() -> None:
    features = known("feature") | {o.id for n in CATALOG.every("choice-list") for o in _options(n.entry)}
    allowed = {
        "has": features | known("species") | known("subclass") | known("feat") | known("item"),
        "knows": known("spell"),
        "state": known("state") | known("condition"),
        "wields": known("item"),
        "level_of": known("class"),
    }
    for kind, entry in ENTRIES:
        for part in parts(entry):
            for formula in formulas(part):
                for function, ids in allowed.items():
                    assert set(formula.calls(function)) <= ids, f"{kind} {entry.id}: {formula.text}"


def _options(entry: Entry | None) -> Iterator[Entry]:
    if isinstance(entry, ChoiceList):
        yield from entry.options


def test_columns_that_formulas_read_are_there() -> None:
    for named in CATALOG.every("class"):
        assert isinstance(named.entry, ClassContent)
        tables = set(named.entry.tables)
        for subclass in CATALOG.subclasses(named.id):
            inner = tables | set(subclass.tables)
            for part in parts(subclass):
                for formula in formulas(part):
                    assert set(formula.calls("column")) <= inner, f"{subclass.id}: {formula.text}"
        for part in parts(named.entry.features):
            for formula in formulas(part):
                assert set(formula.calls("column")) <= tables, f"{named.id}: {formula.text}"


def test_starting_gear_is_there() -> None:
    items, stands_for = (
        known("item"),
        GROUPS | {"simple-weapon", "simple-melee-weapon", "martial-weapon"} | {"martial-melee-weapon"},
    )
    for kind in ("class", "background"):
        for named in CATALOG.every(kind):
            assert isinstance(named.entry, (ClassContent, Background))
            for line in named.entry.starting_gear:
                for text in (text for alternative in line.options for text in alternative):
                    name = text.rpartition(" ")[2]
                    assert name in items or name.removeprefix("any-") in stands_for, f"{named.id}: {text}"


@pytest.mark.parametrize("kind", ["species", "background", "class", "subclass", "feat", "item"])
def test_every_entry_says_where_it_stands(kind: str) -> None:
    for named in CATALOG.every(kind):
        assert named.entry is not None
        assert named.entry.section, named.id
