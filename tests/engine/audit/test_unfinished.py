"""What a build has still to choose, in few words: as much as the audit finds unfinished, nothing of finished ones."""

import pytest

from engine.audit.audit import audit_of
from engine.audit.context import AuditContext
from engine.audit.unfinished import unfinished
from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.publish.references import outlines
from engine.rules.catalog import Catalog
from engine.store.folio_files import load_shipped

SCORES = "Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (standard array)\n"


@pytest.fixture(scope="module")
def release() -> Catalog:
    return Catalog([load_shipped("srd-5.1")])


def context(text: str, release: Catalog) -> AuditContext:
    build = parse_outline(text, release)
    assert isinstance(build, Build), build
    return AuditContext.of(build, release)


def test_it_says_what_is_open(release: Catalog) -> None:
    assert unfinished(context("Build: X\n", release), 0) == ("scores", "race", "background")
    found = unfinished(context(f"Build: X\n{SCORES}Species: Elf\n1-4 Wizard\n", release), 4)
    assert found[:3] == ("kind of Elf", "background", "Arcane Tradition (Wizard)")
    # SRD 5.1, Classes, Wizard: two skills, three cantrips, six spells at first, two a level, increases at level 4.
    assert "two skills (Wizard, level 1)" in found
    assert "three cantrips (Spellcasting, level 1)" in found
    assert "six spells (Spellcasting, level 1)" in found
    assert "two spells (Spellcasting, level 4)" in found
    assert "two ability score increases (Ability Score Improvement, level 4)" in found


def test_only_what_is_due_by_the_level_counts(release: Catalog) -> None:
    ctx = context(f"Build: X\n{SCORES}1-4 Rogue\n", release)
    assert not any("level 4" in words or "Archetype" in words for words in unfinished(ctx, 2))
    assert "Roguish Archetype (Rogue)" in unfinished(ctx, 3)
    assert any("level 4" in words for words in unfinished(ctx, 4))


def test_it_costs_no_sheet(release: Catalog) -> None:
    ctx = context("Build: X\n1-4 Rogue\n", release)
    assert unfinished(ctx, 4)
    assert "sheets" not in vars(ctx)


@pytest.mark.parametrize("place", range(12))
def test_it_finds_as_much_as_the_audit(place: int, release: Catalog) -> None:
    """Whole reference builds, and the same with what is chosen on each level taken away one after another."""
    text = outlines()[place]
    assert unfinished(context(text, release), 20) == ()
    lines = text.splitlines()
    for number, line in enumerate(lines):
        head, colon, _ = line.partition(":")
        if not line[:1].isdigit() or not colon:
            continue
        ctx = context("\n".join([*lines[:number], head, *lines[number + 1 :]]) + "\n", release)
        audited = [f for f in audit_of(ctx) if f.severity == "unfinished"]
        assert bool(unfinished(ctx, 20)) == bool(audited), line
