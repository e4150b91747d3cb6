"""What is open at a level, and what may be picked there."""

import pytest

from engine.audit import audit, legal_picks, open_choices, points_left
from engine.build.document import Build, Choose, Line, Pick
from engine.rules.catalog import Catalog
from tests.engine.audit.bases import BASES
from tests.engine.audit.test_illegal import parsed


@pytest.mark.parametrize("name", BASES)
def test_finished_builds_have_nothing_open(name: str, release: Catalog) -> None:
    """Every level of a finished build is answered."""
    build = parsed(BASES[name], release)
    assert [open_choices(build, release, level) for level in range(1, build.top + 1)] == [()] * build.top


def test_a_new_wizard(release: Catalog) -> None:
    """Level 1 begins with the header; counts are those of the wizard (SRD 5.1, Classes, Wizard)."""
    build = Build(name="Blank Chart", order=("wizard", "wizard"))
    first = open_choices(build, release, 1)
    assert [(c.level, c.keyword, c.count) for c in first] == [
        (None, "scores", 6),
        (None, "species", 1),
        (None, "background", 1),
        (1, "skill", 2),
        (1, "cantrip", 3),
        (1, "spell", 6),
    ]
    skills = {o.name for o in first[3].options}
    assert skills == {"Arcana", "History", "Insight", "Investigation", "Medicine", "Religion"}
    assert all(o.entry is not None and getattr(o.entry, "level", None) == 1 for o in first[5].options)
    assert [(c.keyword, c.count) for c in open_choices(build, release, 2)] == [("subclass", 1), ("spell", 2)]
    assert [o.name for o in open_choices(build, release, 2)[0].options] == ["School of Evocation"]


def test_nothing_at_all(release: Catalog) -> None:
    """A build without a line begins with its first class."""
    choices = open_choices(Build(name="Blank Chart"), release, 1)
    assert [c.keyword for c in choices] == ["scores", "species", "background", "class"]
    assert len(choices[3].options) == 12


def test_header_choices(release: Catalog) -> None:
    """Subspecies, and what a species or background leaves open, stand in the header."""
    text = BASES["shrine"].replace("Hill Dwarf (tool Smith's Tools)", "Dwarf").replace(", Giant)", ")")
    choices = open_choices(parsed(text, release), release, 1)
    assert [(c.level, c.keyword, c.count) for c in choices] == [
        (None, "species", 1),
        (None, "tool", 1),
        (None, "language", 1),
    ]
    assert [o.name for o in choices[0].options] == ["Hill Dwarf"]
    assert {o.name for o in choices[1].options} == {"Smith's Tools", "Brewer's Supplies", "Mason's Tools"}
    assert "Elvish" not in {o.name for o in choices[2].options}


def test_points_left(release: Catalog) -> None:
    """Points are named where point buy is used (common practice; SRD 5.2.1, Character Creation: 27 points)."""
    text = BASES["scribe"]
    assert points_left(parsed(text, release), release) == 0
    short = parsed(text.replace("Cha 10 (", "Cha 8 ("), release)
    assert points_left(short, release) == 2
    assert [(c.keyword, c.noun, c.count) for c in open_choices(short, release, 1)] == [("scores", "point", 2)]
    assert points_left(parsed(text.replace("Cha 10 (", "Cha 12 ("), release), release) == -2
    assert points_left(parsed(text.replace("Int 15", "Int 16"), release), release) is None
    assert points_left(parsed(BASES["reed"], release), release) is None


def test_an_improvement_offers_feats_instead(release: Catalog) -> None:
    """Feats whose prerequisite is met stand beside the scores, none where half of it is spent."""
    watch = parsed(BASES["watch"].replace("6 Fighter: +2 Con", "6 Fighter"), release)
    [choice] = open_choices(watch, release, 6)
    assert (choice.keyword, choice.count) == ("increase", 2)
    assert choice.instead == ()  # Grappler is taken already
    strong = parsed(BASES["watch"].replace("4 Fighter: feat Grappler", "4 Fighter"), release)
    assert [n.name for n in open_choices(strong, release, 4)[0].instead] == ["Grappler"]
    half = parsed(BASES["watch"].replace("4 Fighter: feat Grappler", "4 Fighter: +1 Str"), release)
    [rest] = open_choices(half, release, 4)
    assert (rest.count, rest.instead) == (1, ())


def test_the_next_level_is_looked_at_in_the_last_class(release: Catalog) -> None:
    """One level beyond the end is one more of the last class; further on nothing is known."""
    reed = parsed(BASES["reed"], release)
    [choice] = open_choices(reed, release, 9)
    assert (choice.keyword, choice.count, choice.place) == ("spell", 1, "/levels/ranger/5")
    assert max(o.entry.level for o in choice.options if o.entry is not None and hasattr(o.entry, "level")) == 2
    assert open_choices(reed, release, 10) == open_choices(reed, release, 0) == ()


@pytest.mark.parametrize(
    ("base", "level", "keyword", "has", "lacks"),
    [
        ("reed", 5, "skill", "Animal Handling", "Perception"),
        ("reed", 7, "prey", "Horde Breaker", "Colossus Slayer"),
        ("reed", 7, "spell", "Goodberry", "Hunter's Mark"),
        ("reed", 1, "expertise", "Acrobatics", "Deception"),
        ("reed", 1, "language", "Dwarvish", "Goblin"),
        ("reed", 3, "subclass", "Thief", "Champion"),
        ("reed", 1, "species", "Hill Dwarf", "Goblin"),
        ("watch", 4, "feat", "Deep Lungs", "Grappler"),
        ("watch", 1, "style", "Archery", "Defense"),
        ("hex", 5, "invocation", "Repelling Blast", "Thirsting Blade"),
        ("scribe", 5, "prepare", "Scorching Ray", "Bless"),
        ("scribe", 5, "copied", "Haste", "Fireball"),
        ("shrine", 1, "prepare", "Bless", "Aid"),
        ("watch", 2, "lose", "Longsword", "Rapier"),
        ("watch", 2, "gain", "Rapier", "Grappler"),
        ("piper", 6, "secret", "Haste", "Fireball"),
        ("scribe", 4, "increase", "Strength", "Luck"),
    ],
)
def test_legal_picks(base: str, level: int, keyword: str, has: str, lacks: str, coast: Catalog) -> None:
    """What may be picked under a keyword at a level, room or not; what is had or out of reach is left out."""
    names = {n.name for n in legal_picks(parsed(BASES[base], coast), coast, level, keyword)}
    assert has in names
    assert lacks not in names


def test_features_of_backgrounds(release: Catalog) -> None:
    """A background of one's own takes the feature of another, not its skills or languages."""
    text = BASES["reed"].replace("; feature Shelter of the Faithful", "")
    [choice] = open_choices(parsed(text, release), release, 1)
    assert (choice.level, choice.keyword) == (None, "feature")
    assert [o.name for o in choice.options] == ["Shelter of the Faithful"]


def test_nothing_asks_for_it(release: Catalog) -> None:
    """A keyword that no feature of the level asks for has no picks, nor has a level beyond the build."""
    reed = parsed(BASES["reed"], release)
    assert legal_picks(reed, release, 2, "style") == ()
    assert legal_picks(reed, release, 12, "spell") == ()
    assert legal_picks(reed, release, 2, "copied") == ()


def test_legal_picks_are_legal(release: Catalog) -> None:
    """Whatever is offered for an open choice brings no finding that breaks the rules."""
    text = BASES["hex"].replace("invocation Eldritch Spear; ", "")
    build = parsed(text, release)
    [choice] = [c for c in open_choices(build, release, 5) if c.keyword == "invocation"]
    assert choice.options
    for option in choice.options:
        line = build.levels["warlock"][5]
        items = (Choose(keyword="invocation", picks=(Pick(id=option.id),)), *line.items)
        lines = {**build.levels["warlock"], 5: Line(items=items)}
        picked = build.model_copy(update={"levels": {"warlock": lines}})
        broken = [f for f in audit(picked, release) if f.severity == "breaks-rules"]
        # The line's own swap for Mask of Many Faces is the one thing that a pick can clash with.
        assert not broken or option.id == "mask-of-many-faces", (option, broken)
