"""The one edit that mends a finding: it gives back the base of the illegal change, or something as good."""

import pytest

from engine.audit import TableRules, audit, mending, mendings, read_table
from engine.audit.context import AuditContext
from engine.build.document import Build
from engine.build.edits import apply
from engine.rules.catalog import Catalog
from tests.engine.audit.bases import BASES
from tests.engine.audit.illegal_changes import ROWS, Row
from tests.engine.audit.test_illegal import parsed

# Codes for which some change of the table has exactly one way back.
MENDED = {
    "attunement-not-needed", "choice-open", "choice-too-many", "copied-without-book", "folio-changed", "gear-not-held",
    "hp-at-first-level", "increase-misplaced", "no-subspecies", "prepare-not-used", "prepared-always",
    "prepared-twice", "spell-without-casting", "subclass-changed", "subclass-early", "subclass-missing",
    "subclass-wrong-class", "swap-not-allowed", "swap-not-held",
}  # fmt: skip
# What remains after the mending of a change that took something away instead of adding it.
LEAVES = {"prepared-twice", "prepared-always", "swap-not-allowed", "swap-not-held", "no-subspecies"}


def broken(row: Row, catalog: Catalog) -> Build:
    base = BASES[row.base]
    build = parsed(base.replace(row.old, row.new) if row.old else base, catalog)
    return row.edit(build) if row.edit is not None else build


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_mending_does_away_with_the_finding(row: Row, release: Catalog, coast: Catalog) -> None:
    """Where an edit is offered, the mended build lacks the finding and breaks nothing new."""
    catalog = coast if "Quay" in row.new or row.code in ("folio-changed", "too-much-content") else release
    if "Deep Lungs" in row.new or "Net Mender" in row.new:
        catalog = coast
    build = broken(row, catalog)
    table = read_table(row.table.encode())
    assert isinstance(table, TableRules)
    before = audit(build, catalog, table, row.rolls)
    [found] = [f for f in before if f.code == row.code and f.level == row.level][:1]
    edits = mending(build, catalog, found, table, row.rolls)
    if edits is None:
        return
    assert row.code in MENDED
    mended = apply(build, edits)
    assert isinstance(mended, Build)
    after = audit(mended, catalog, table, row.rolls)
    assert found not in after
    worse = {f for f in after if f.severity in ("breaks-rules", "breaks-table-rules", "unfinished")} - set(before)
    assert not worse
    if row.code not in LEAVES and row.code not in ("folio-changed", "choice-open", "copied-without-book"):
        assert mended == parsed(BASES[row.base], catalog)


def test_every_kind_of_mending_is_reached(release: Catalog, coast: Catalog) -> None:
    """Each code that can be mended is mended by some row."""
    reached = set()
    for row in ROWS:
        if row.code not in MENDED or row.code in reached:
            continue
        catalog = coast if "Quay" in row.new or row.code in ("folio-changed", "too-much-content") else release
        build = broken(row, catalog)
        for found in audit(build, catalog):
            if found.code == row.code and mending(build, catalog, found) is not None:
                reached.add(row.code)
    assert MENDED - reached == {"choice-open"}


def test_the_only_options_left_are_offered(release: Catalog) -> None:
    """A dwarf's tool is one of three; with two of them had there is one left (SRD 5.1, Races, Dwarf)."""
    text = (
        BASES["shrine"]
        .replace("Hill Dwarf (tool Smith's Tools)", "Hill Dwarf")
        .replace(
            "Acolyte (languages Elvish, Giant)",
            "Kiln Keeper (custom; skills Arcana, Nature; tools Smith's Tools, Mason's Tools;"
            " feature Shelter of the Faithful)",
        )
    )
    build = parsed(text, release)
    [found] = [f for f in audit(build, release) if f.code == "choice-open"]
    edits = mending(build, release, found)
    assert edits is not None
    mended = apply(build, edits)
    assert mended == parsed(text.replace("Hill Dwarf", "Hill Dwarf (tool Brewer's Supplies)"), release)


def test_a_subclass_named_early_moves_to_its_level(release: Catalog) -> None:
    """SRD 5.1, Classes, Rogue, Roguish Archetype: at the 3rd level."""
    right = parsed(BASES["reed"], release)
    build = parsed(BASES["reed"].replace("2 Rogue\n3 Rogue (Thief)", "2 Rogue (Thief)\n3 Rogue"), release)
    assert build != right
    [found] = [f for f in audit(build, release) if f.code == "subclass-early"]
    edits = mending(build, release, found)
    assert edits is not None
    assert apply(build, edits) == right


def test_many_findings_are_mended_one_by_one(release: Catalog) -> None:
    """`mendings` offers what `mending` offers, the worst first, and no more than asked for."""
    text = (
        BASES["reed"]
        .replace("2 Rogue\n3 Rogue (Thief)", "2 Rogue (Thief): +1 Dex\n3 Rogue")
        .replace("Rapier", "Rapier (attuned)")
    )
    build = parsed(text, release)
    ctx = AuditContext.of(build, release)
    findings = audit(build, release)
    found = mendings(ctx, findings, 5)
    assert {f.code for f in found} == {"subclass-early", "increase-misplaced", "attunement-not-needed"}
    assert all(mending(build, release, f) == edits for f, edits in found.items())
    assert len(mendings(ctx, findings, 2)) == 2


def test_more_ways_than_one_offer_none(release: Catalog) -> None:
    """Of five skills where four are asked for, only the author can say which goes."""
    build = parsed(BASES["reed"].replace("Investigation;", "Investigation, Deception;"), release)
    [found] = [f for f in audit(build, release) if f.code == "choice-too-many"]
    assert mending(build, release, found) is None
    other = parsed(BASES["reed"].replace("; terrain Swamp", ""), release)
    [open_] = [f for f in audit(other, release) if f.code == "choice-open"]
    assert mending(other, release, open_) is None
