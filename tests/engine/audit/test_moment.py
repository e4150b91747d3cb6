"""What formulas of folios see of a build at the moment of a pick."""

from typing import Any

import pytest

from engine.audit.context import AuditContext
from engine.audit.moment import Moment
from engine.audit.words import counted, listing, ordinal, plural_of, some
from engine.rules.catalog import Catalog
from engine.rules.formula import Formula
from tests.engine.audit.bases import BASES
from tests.engine.audit.test_illegal import parsed


@pytest.mark.parametrize(
    ("base", "level", "owner", "formula", "value"),
    [
        ("reed", 8, "ranger", "class_level", 4),
        ("reed", 8, None, "class_level", 8),
        ("reed", 8, None, "character_level", 8),
        ("reed", 8, "rogue", "ranger_level + rogue_level + wizard_level", 8),
        ("reed", 8, None, "level_of('ranger')", 4),
        ("reed", 5, None, "proficiency_bonus", 3),
        # Wisdom 16 before the increase of level 8, 18 after it
        ("reed", 8, None, "wis_score", 16),
        ("reed", 8, None, "wis", 3),
        ("reed", 1, None, "str", -1),
        ("reed", 8, "rogue", "column(sneak_attack)", "2d6"),
        ("reed", 8, None, "column(sneak_attack)", 0),
        ("reed", 8, None, "has('archery')", True),
        ("reed", 5, None, "has('archery')", False),
        ("reed", 7, None, "knows('fog-cloud')", True),
        ("reed", 8, None, "knows('fog-cloud')", False),
        ("reed", 8, None, "state('rage')", False),
        ("reed", 8, None, "light_armor and not shield", True),
        ("reed", 8, None, "no_armor or heavy_armor or metal_armor", False),
        ("watch", 1, None, "heavy_armor and shield and metal_armor", True),
        ("scribe", 1, None, "no_armor", True),
        ("reed", 8, None, "melee or two_handed", False),
    ],
)
def test_words(base: str, level: int, owner: str | None, formula: str, value: Any, release: Catalog) -> None:
    """Levels, scores before the level's own increases, features held, gear worn; nothing of attacks or states."""
    moment = Moment(AuditContext.of(parsed(BASES[base], release), release), level, owner)
    assert Formula.parse(formula).evaluate(moment) == value


def test_unknown_words_are_bugs(release: Catalog) -> None:
    """The loader refuses them, so here they raise."""
    moment = Moment(AuditContext.of(parsed(BASES["reed"], release), release), 1, None)
    assert "wis" in set(moment)
    assert len(moment) == len(set(moment))
    with pytest.raises(KeyError):
        moment["harbour"]


def test_words_of_sentences() -> None:
    """Numbers up to twelve are words, lists end in `and`, plurals are English."""
    assert counted(1, "skill") == "one skill"
    assert counted(2, "ability") == "two abilities"
    assert counted(14, "boss") == "14 bosses"
    assert counted(0, "key") == "no keys"
    assert plural_of("tool or language") == "tools or languages"
    assert plural_of("kind of land") == "kinds of land"
    assert plural_of("series") == "series"
    assert listing([]) == ""
    assert listing(["a"]) == "a"
    assert listing(["a", "b", "c"], "or") == "a, b or c"
    assert [ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21)] == [
        "1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st",
    ]  # fmt: skip
    assert some("abc") == "a, b, c"
    assert some("abcdefgh", 3) == "a, b, c and 5 more"
