"""No folio makes a build cost without end: the work of a sheet, a timeline, an audit and of odds, counted in lines.

Each folio here gives as much as the loader lets one give, in the way that costs most; the build takes all of it. What
a whole build of the release costs is measured beside them, so that the bounds say how many times that it may be.
"""

import json
from collections.abc import Callable
from functools import lru_cache
from typing import Any, Final

import pytest

from engine.audit import audit
from engine.build.document import Build, Line, Pick, Scores
from engine.odds.asked import Asked, Use
from engine.odds.questions import ask
from engine.odds.sources import Figures, Filled, filled
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.folio import Folio, FolioProblem
from engine.rules.limits import (
    MAX_BASES,
    MAX_FEATURES,
    MAX_GATHERED,
    MAX_GRANTS,
    MAX_LISTED,
    MAX_OFFERED,
    MAX_OPTIONS,
    MAX_WEAPONS,
)
from engine.rules.loader import read_folio
from engine.rules.words import ABILITIES
from engine.sheet import gather, sheet, timeline
from engine.store.folio_files import load_shipped
from tests.engine.counting import lines_run

HEADER: Final = {
    "id": "dear", "title": "Dear", "version": "1", "licence": "MIT", "attribution": "our own", "extends": "srd-5.1",
}  # fmt: skip
Content = dict[str, Any]
# As long and deep as a formula may be.
SUM: Final = "+".join(["wis"] * 23)
ASKING: Final = "+".join(["has('f{}')"] * 16)
KNOWING: Final = "+".join(["knows('light')"] * 12)
# Lines that run at most: the dearest folios cost about half of this when the limits were set.
SHEET: Final = 2_500_000
ALL_LEVELS: Final = 3_000_000
AUDIT: Final = 3_000_000
# Grants of each of twenty classes: more than a build takes in, whatever they are.
EACH: Final = 80


def read(content: Content) -> Folio | list[FolioProblem]:
    text = json.dumps({**HEADER, **content}).encode()
    return read_folio({"folio.yaml": text}, lambda _: (load_shipped("srd-5.1"),))


def made(content: Content) -> Catalog:
    found = read(content)
    assert isinstance(found, Folio), found[:3]
    return Catalog([load_shipped("srd-5.1"), found])


def class_(i: int, grants: list[Content], **more: Any) -> Content:
    feature = {"id": f"f{i}", "name": f"F{i}", "grants": grants, "no_number": "none"}
    facts = {"hit_die": 8, "saves": ["wis"], "subclass_level": 3, "subclass_title": "Way"}
    return {"id": f"c{i}", "name": f"C{i}", **facts, "features": [feature], **more}


def twenty(grants: Callable[[int], list[Content]], **more: Any) -> Content:
    """Return twenty classes, one for each level of a build, each with as many grants as asked for."""
    return {"classes": [class_(i, grants(i), **more) for i in range(20)]}


def taking(**more: Any) -> Build:
    return Build(
        name="Takes It All",
        scores=Scores(values=dict.fromkeys(ABILITIES, 14)),
        order=tuple(f"c{i}" for i in range(20)),
        **more,
    )


def claws(i: int) -> list[Content]:
    half = EACH // 2
    claw = {"kind": "natural-weapon", "name": "Claw", "die": "1d4", "damage": "cold"}
    bonus = {"kind": "attack-bonus", "amount": SUM, "when": "weapon or melee"}
    return [*({**claw, "id": f"claw-{i}-{n}"} for n in range(half)), *([bonus] * half)]


def innate(i: int) -> list[Content]:
    spells = {"kind": "extra-spells", "how": "innate", "ability": "wis", "spells": [{"id": "light"}] * 9}
    count = {"kind": "choice", "keyword": "skill", "count": KNOWING}
    return [*({**spells, "casting": f"x{i}-{n}"} for n in range(40)), *([count] * 40)]


def casting(i: int) -> list[Content]:
    grant = {"kind": "spellcasting", "ability": "wis", "list": "wizard", "progression": "full", "cantrips": 3}
    return [{**grant, "preparation": "known", "known": "class_level * 5"}] * EACH


def named(i: int) -> list[Content]:
    return [{"kind": "proficiency", "of": "skill", "ids": ["stealth"] * MAX_LISTED}] * EACH


DAGGERS: Final = tuple(
    Pick(id=id_, bonus=n)
    for n in range(10)
    for id_ in ("dagger", "handaxe", "javelin", "spear", "quarterstaff", "mace", "club", "sickle", "trident", "dart")
)
BONUS: Final = {"kind": "attack-bonus", "amount": SUM, "when": "weapon or melee"}
DEAREST: Final[dict[str, tuple[Content, Build]]] = {
    "claws that every bonus looks at": (twenty(claws), taking()),
    "pools": (
        twenty(lambda i: [{"kind": "pool", "id": f"p{i}-{n}", "uses": SUM, "restored": "dawn"} for n in range(EACH)]),
        taking(),
    ),
    "bonuses on every check": (twenty(lambda _: [{"kind": "check-bonus", "amount": SUM}] * EACH), taking()),
    "formulas that ask about the build": (
        twenty(lambda i: [{"kind": "check-bonus", "amount": ASKING.replace("{}", str(i))}] * EACH),
        taking(),
    ),
    "choices of a hundred": (
        twenty(lambda _: [{"kind": "choice", "keyword": "skill", "count": 1_000_000}] * EACH),
        taking(),
    ),
    "choices at every level": (
        twenty(lambda _: [{"kind": "choice", "keyword": "skill", "total": "class_level * 100"}] * EACH),
        taking(),
    ),
    "spells of their own": (twenty(innate), taking()),
    "ways of casting": (twenty(casting, tables={"slots_1": [2] * 20}), taking()),
    "long lists": (twenty(named), taking()),
    "a hundred weapons": (twenty(lambda _: [BONUS] * EACH), taking(gear=DAGGERS)),
    "features that end others": (
        {
            "classes": [
                class_(i, [], features=[
                    {"id": f"g{n}", "name": "G", "replaces": f"g{n - 1}" if n else None, "grants": [BONUS]}
                    for n in range(MAX_FEATURES)
                ])
                for i in range(20)
            ]
        },
        taking(),
    ),
}  # fmt: skip


@lru_cache(maxsize=1)
def plain() -> tuple[int, int, int]:
    """Return the lines that a sheet, all levels and an audit of a plain wizard of the release run."""
    build = Build(
        name="Plain",
        scores=Scores(values=dict.fromkeys(ABILITIES, 14)),
        order=("wizard",) * 20,
        levels={"wizard": {2: Line(subclass="evocation")}},
    )
    return counted(build, Catalog([load_shipped("srd-5.1")]))


def counted(build: Build, catalog: Catalog) -> tuple[int, int, int]:
    """Return the lines that a sheet at level 20, all levels, and an audit run."""
    sheet(build, catalog, 20)  # names are folded and shelves filled once, whatever is on the build
    one = lines_run(lambda: sheet(build, catalog, 20), SHEET)[1]
    every = lines_run(lambda: timeline(build, catalog), ALL_LEVELS)[1]
    findings, audited = lines_run(lambda: audit(build, catalog), AUDIT)
    assert gather(build, catalog).overfull == ("too-much-content" in {f.code for f in findings})
    return one, every, audited


@pytest.mark.parametrize("case", DEAREST)
def test_the_dearest_folios(case: str) -> None:
    content, build = DEAREST[case]
    catalog = made(content)
    assert gather(build, catalog).overfull
    assert min(counted(build, catalog)) > 1000  # something was counted at all, and never too much


def test_a_whole_build_of_the_release_is_far_below() -> None:
    """The bounds are wide enough for what people play: a build of twenty levels stays a tenth below each."""
    for lines, most in zip(plain(), (SHEET, ALL_LEVELS, AUDIT), strict=True):
        assert 1000 < lines < most / 10


def test_what_is_too_much_counts_for_nothing_and_the_rest_for_all() -> None:
    """Bonuses of 1 to every check: as many count as the build can take in, and the sheet still adds up."""
    catalog = made(twenty(lambda _: [{"kind": "check-bonus", "amount": 1}] * EACH))
    number = sheet(taking(), catalog, 20).numbers["check.str"]
    counted_in = sum(1 for reason in number.reasons if reason.amount == 1)
    # A grant weighs itself and its one listed check.
    assert 0.4 * MAX_GATHERED <= counted_in <= MAX_GATHERED / 2
    assert number.value == sum(int(r.amount) for r in number.reasons)


def test_very_many_weapons() -> None:
    catalog = made({})
    build = taking(gear=DAGGERS).model_copy(update={"order": ("fighter",) * 20})
    names = {n.split(".")[1] for n in sheet(build, catalog, 20).numbers if n.startswith("attack.")}
    assert len(names - {"unarmed-strike"}) == MAX_WEAPONS
    assert "too-much-content" in {f.code for f in audit(build, catalog)}
    few = build.model_copy(update={"gear": DAGGERS[:MAX_WEAPONS]})
    assert not gather(few, catalog).overfull


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ({"classes": [class_(0, [{"kind": "armor-bonus", "amount": 1}] * (MAX_GRANTS + 1))]}, "151 grants; one entry"),
        (
            {"backgrounds": [{"id": "b", "name": "B", "features": [
                {"id": f"g{n}", "name": "G", "no_number": "none"} for n in range(MAX_FEATURES + 1)
            ]}]},
            "121 features; one entry may have 120",
        ),
        (
            {"choices": [{"id": "b", "name": "B", "keyword": "knot", "options": [
                {"id": f"g{n}", "name": "G", "no_number": "none"} for n in range(MAX_OPTIONS + 1)
            ]}]},
            "301 options; one list may have 300",
        ),
        (
            {"choices": [{"id": f"b{m}", "name": "B", "keyword": "style", "options": [
                {"id": f"g{m}-{n}", "name": "G", "no_number": "none", "offered_to": ["fighter"]}
                for n in range(MAX_OFFERED // 2 + 1)
            ]} for m in range(2)]},
            "more than 300 options of this folio are `offered_to` others",
        ),
        (
            {"items": [{"id": "b", "name": "B", "category": "magic", "magic": {
                "rarity": "rare", "kind": "weapon", "base": ["dagger"] * (MAX_BASES + 1)
            }}]},
            "make more than 5000 items",
        ),
        (
            {"feats": [{"id": "b", "name": "B", "grants": [
                {"kind": "expertise", "ids": ["stealth"] * (MAX_LISTED + 1)}
            ]}]},
            "`ids` lists 121 things; a list in a grant may have 120",
        ),
        (
            {"feats": [{"id": "b", "name": "B", "grants": [{"kind": "armor-bonus", "amount": "+".join(["1"] * 101)}]}]},
            "a formula may have 200 characters; this one has 201",
        ),
        (
            {"feats": [{"id": "b", "name": "B", "grants": [
                {"kind": "carrying", "when": "(" * 60 + "1" + ")" * 60, "times": 2}
            ]}]},
            None,
        ),
        (
            {"feats": [{"id": "b", "name": "B", "grants": [{"kind": "armor-bonus", "amount": "- " * 60 + "1"}]}]},
            "is nested more than 24 deep",
        ),
    ],
)  # fmt: skip
def test_what_the_loader_refuses(content: Content, said: str | None) -> None:
    """Parentheses alone cost nothing, so they may stand; what they hold may not nest."""
    found = read(content)
    if said is None:
        assert isinstance(found, Folio)
        return
    assert isinstance(found, list)
    assert any(said in problem.sentence for problem in found), found


DICE: Final = [{"kind": "extra-die", "die": "40d100", "rolls": ["check", "save", "attack"]}] * MAX_GRANTS
HARM: Final = [{"kind": "extra-damage", "dice": "40d100", "how": "each-hit"}] * MAX_GRANTS


@pytest.mark.parametrize(
    "asked",
    [
        Asked(kind="check", fields={"dc": 100}, builds=("x",), use=Use(kind="skill", name="Stealth")),
        Asked(kind="attack", fields={"ac": 15}, builds=("x",), use=Use(kind="attack", name="Dagger")),
    ],
)
def test_hundreds_of_large_dice_are_no_endless_question(asked: Asked) -> None:
    """The question says what it cannot do, in one sentence and in bounded work."""
    state = {"id": "on", "name": "On", "grants": DICE if asked.kind == "check" else HARM}
    catalog = made({"states": [state]})
    build = taking(gear=(Pick(id="dagger"),)).model_copy(update={"order": ("fighter",) * 20})
    figures = Figures(build, catalog, 20, ("on",))

    def answered() -> object:
        found = filled(asked, [figures], catalog)
        return ask(found.question) if isinstance(found, Filled) else found

    answer, lines = lines_run(answered, SHEET)
    assert lines > 100
    assert isinstance(answer, Refused), answer
    assert answer.code.startswith(("too-much", "dice-too", "too-many")), answer
