"""Every code of the audit is brought about by a change that breaks just that rule."""

import pytest

from engine.audit import CODES, SEVERITIES, TableRules, audit, read_table
from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.rules.catalog import Catalog
from tests.engine.audit.bases import BASES
from tests.engine.audit.illegal_changes import ROWS, Row


def parsed(text: str, catalog: Catalog) -> Build:
    build = parse_outline(text, catalog)
    assert isinstance(build, Build), build
    return build


@pytest.mark.parametrize("name", BASES)
def test_bases_break_nothing_and_lack_nothing(name: str, coast: Catalog) -> None:
    """The builds that the changes start from have neither broken rules nor open ends."""
    found = audit(parsed(BASES[name], coast), coast)
    assert [f for f in found if f.severity in ("breaks-rules", "breaks-table-rules", "unfinished", "advice")] == []
    assert {f.code for f in found} <= {"roll-not-witnessed"}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_change_brings_its_finding(row: Row, coast: Catalog) -> None:
    """The change is found under its code, at its level, in a sentence with a source, and the base had it not."""
    base = BASES[row.base]
    assert base.count(row.old) == 1 or not row.old, f"{row.old!r} stands {base.count(row.old)} times in the base"
    before = parsed(base, coast)
    after = parsed(base.replace(row.old, row.new) if row.old else base, coast)
    if row.edit is not None:
        after = row.edit(after)
    table = read_table(row.table.encode())
    assert isinstance(table, TableRules), table
    known = {(f.code, f.level, f.subject) for f in audit(before, coast)}
    new = [f for f in audit(after, coast, table, row.rolls) if (f.code, f.level, f.subject) not in known]
    mine = [f for f in new if f.code == row.code and f.level == row.level]
    assert len(mine) == 1, [str(f) for f in new]
    assert mine[0].severity == CODES[row.code].severity
    assert mine[0].message.endswith(".")
    assert mine[0].message[0].isupper() or not mine[0].message[0].isalpha()
    assert mine[0].source


def test_rows_hit_every_code() -> None:
    """The table of changes leaves out no code, and knows none that does not exist."""
    assert {row.code for row in ROWS} == set(CODES)


def test_codes_say_what_they_mean() -> None:
    """Codes are kebab-case, with a known severity and a line of their own."""
    for code, entry in CODES.items():
        assert entry.code == code
        assert entry.severity in SEVERITIES
        assert code == code.lower().replace("_", "-")
    assert len({entry.meaning for entry in CODES.values()}) == len(CODES)
