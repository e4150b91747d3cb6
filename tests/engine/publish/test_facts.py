"""Facts in words: every thing of the shipped rules has a card that fits, tables a phone shows, figures of the folio."""

import pytest

from bot.exts.rules.cards import fact_card
from bot.ui.card import fitted
from engine.publish.facts import facts_of
from engine.publish.facts.formulas import Speaker
from engine.publish.facts.grants import TOLD_KINDS, grant_words
from engine.rules.catalog import Catalog
from engine.rules.content import ClassContent
from engine.rules.formula import Formula
from engine.rules.grants import GRANT_KINDS
from engine.rules.index import index_of
from engine.services import library
from engine.services.facts import FactView


@pytest.fixture(scope="module")
def release() -> Catalog:
    return library.catalog()


def test_every_kind_of_grant_has_words() -> None:
    assert set(GRANT_KINDS) == TOLD_KINDS


def test_every_thing_has_a_card_that_fits_and_says_where_it_stands(release: Catalog) -> None:
    for each in index_of(release).all:
        facts = facts_of(each.named, release)
        assert facts.source.startswith("SRD 5.1, "), each.address
        assert facts.first, each.address
        assert facts.sections, each.address
        texts = fitted(fact_card(FactView(facts)))
        assert sum(map(len, texts)) <= 4000, each.address
        assert not any(text.startswith("-# and ") for text in texts), each.address
        words = " ".join(line for section in facts.sections for line in section.lines)
        for unread in ("Formula(", "column", "class_level", "None", "_", "  ", "()"):
            assert unread not in words, (each.address, unread)


def test_class_tables_hold_every_cell_and_fit_a_phone(release: Catalog) -> None:
    for named in release.every("class"):
        content = named.entry
        assert isinstance(content, ClassContent)
        [section] = [s for s in facts_of(named, release).sections if s.tables]
        rows = [table.splitlines()[-20:] for table in section.tables]
        assert all(len(line) <= 35 for table in section.tables for line in table.splitlines())
        for level in range(1, 21):
            cells = [cell for table in rows for cell in table[level - 1].split()[1:]]
            columns = sorted(content.tables.items(), key=lambda pair: pair[0].startswith("slots_"))
            printed = [{None: "-", "unlimited": "all"}.get(c[level - 1], str(c[level - 1])) for _, c in columns]
            bonus = f"+{release.release.proficiency_bonus[level - 1]}"
            assert cells == [bonus, *printed], (named.id, level)


# Formula, owner -> words.
FORMULAS = [
    ("max(1, cha)", None, "Charisma modifier, at least 1"),
    ("half_down(class_level)", ("class", "druid"), "half druid level rounded down"),
    ("min(4, half_down(class_level - 9))", ("class", "rogue"), "half rogue level − 9 rounded down, at most 4"),
    ("column(rage_damage)", ("class", "barbarian"), "2 from level 1, 3 from 9, 4 from 16"),
    ("weapon and melee and not shield", None, "with a weapon, in melee, no shield held"),
    ("(weapon or unarmed) and by_strength", None, "either with a weapon or unarmed, using Strength"),
    ("5 * class_level", ("subclass", "life-domain"), "5 × cleric level"),
    ("when(character_level >= 5, 2, 1)", None, "2 if character level at least 5, otherwise 1"),
    ("has('pact-of-the-blade')", None, "having Pact of the Blade"),
    ("wields('longbow') or wields('shortbow')", None, "with a Longbow or with a Shortbow"),
    ("max(str, dex)", None, "the higher of Strength modifier and Dexterity modifier"),
    ("div_down(wis_score, 3) + third_down(warlock_level)", None,
     "Wisdom score divided by 3 rounded down + a third of warlock level rounded down"),
    ("dice(2, 6)", None, "2d6"),
    ("-con", None, "minus Constitution modifier"),
    ("not state('rage') and level_of('monk') > 2", None, "not while in Rage, monk level above 2"),
]  # fmt: skip


@pytest.mark.parametrize(("formula", "owner", "words"), FORMULAS)
def test_formulas_read_as_words(formula: str, owner: tuple[str, str] | None, words: str, release: Catalog) -> None:
    assert Speaker(release, owner).words(Formula.parse(formula)) == words


def test_levels_and_conditions_stand_around_a_grant(release: Catalog) -> None:
    """SRD 5.1, Classes, Druid, Beast Shapes; Fighter, Extra Attack."""
    shape = release.feature("druid/wild-shape")
    assert shape is not None
    words = [grant_words(g, Speaker(release, ("class", "druid"))) for g in shape.grants]
    hours = "for hours equal to half druid level rounded down"
    assert f"until level 3: beasts of challenge 1/4 or less, without swim or fly speed, {hours}" in words
    assert f"levels 4 to 7: beasts of challenge 1/2 or less, without fly speed, {hours}" in words
    assert f"from level 8: beasts of challenge 1 or less, {hours}" in words
