"""The rules of a table: what the YAML may say, and what is answered to anything else."""

import textwrap

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.audit import TableProblem, TableRules, audit, read_table, read_table_rules, unknown_names
from engine.audit import table as module
from engine.problem import Refused
from engine.rules.catalog import Catalog
from tests.engine.audit.bases import BASES
from tests.engine.audit.test_illegal import parsed


def rules(text: str) -> TableRules:
    found = read_table(text.encode())
    assert isinstance(found, TableRules), found
    return found


def problems(text: bytes) -> list[TableProblem]:
    found = read_table(text)
    assert isinstance(found, list), found
    return found


def test_example_of_the_module_is_read() -> None:
    """The example in the docstring holds every key of the form."""
    example = textwrap.dedent((module.__doc__ or "").split("\n\n")[1])
    found = rules(example)
    assert {line.split(":")[0] for line in example.splitlines()} == set(TableRules.model_fields)
    assert found.levels is not None
    assert (found.levels.start, found.levels.highest) == (1, 12)
    assert found.scores == ("standard-array", "point-buy")
    assert found.extra_feats == (1, 8)
    assert found.multiclassing is False
    assert found.magic_items is not None
    assert found.magic_items.most == 2


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        ("levels: 3 to 12", "levels", {"start": 3, "highest": 12}),
        ("levels: 9", "levels", {"start": 1, "highest": 9}),
        ("levels: {start: 3}", "levels", {"start": 3, "highest": 20}),
        ("rules: SRD 5.1", "rules", ("SRD 5.1",)),
        ("hit_points: [fixed, Maximum]", "hit_points", ("fixed", "maximum")),
        ("extra_feats: 4", "extra_feats", (4,)),
        ("extra_feats: {1: 2, 4: 1}", "extra_feats", (1, 1, 4)),
        ("magic_items: yes", "magic_items", {"most": None, "rarity": None}),
        ("magic_items: no", "magic_items", {"most": 0, "rarity": None}),
        ("magic_items: {rarity: Very Rare}", "magic_items", {"most": None, "rarity": "very-rare"}),
        ("folios: []", "folios", ()),
    ],
)
def test_ways_of_writing(text: str, key: str, value: object) -> None:
    """One thing may be written in more than one way."""
    assert rules(text).model_dump()[key] == value


def test_nothing_restricts_nothing() -> None:
    """An empty file is the rules of a table that has none."""
    assert rules("") == rules("# later") == TableRules()


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("levels: 5-3", 1, 1, "starting level 5 lies above"),
        ("points: 27\nscores: pointbuy", 2, 1, "expected some of standard array, point buy"),
        ("hit_points: [fixed, fixd]", 1, 21, "expected some of fixed, rolled, maximum"),
        ("multiclassing: maybe", 1, 1, "expected yes or no"),
        ("pionts: 27", 1, 1, "nearest: points"),
        ("points: x", 1, 1, "a whole number from 0 to 99"),
        ("points: yes", 1, 1, "a whole number from 0 to 99"),
        ("levels: {start: 30}", 1, 10, "a whole number from 1 to 20"),
        ("levels: {strat: 3}", 1, 10, "`strat` is no key"),
        ("bar: [3]", 1, 7, "a list of names"),
        ("bar: [x\npoints: 3", 2, 7, "not readable as YAML"),
        ("points: 2\npoints: 3", 2, 1, "given twice"),
        ("bar: &all [x]\nallow: *all", 1, 1, "no YAML aliases"),
        ("magic_items: huh", 1, 1, "yes, no, a whole number"),
        ("magic_items: {rarity: shiny}", 1, 15, "common, uncommon, rare"),
        ("levels: !!python/name:os.system x", 1, 9, "not readable as YAML"),
        ("levels: 2024-99-99", 1, 1, "a value in it is malformed"),
        ("- points", 1, 1, "lines `key: value`"),
        ("1: 2", 1, 1, "keys are plain words"),
        ("\x00", 1, 1, "characters that no text has"),
    ],
)
def test_bad_rules_are_answered_in_words(text: str, line: int, column: int, says: str) -> None:
    """Each problem has its place and a sentence that says what was expected."""
    found = problems(text.encode())
    sentence = found[0].sentence.replace("may not use YAML aliases", "no YAML aliases")
    assert says in sentence
    assert (found[0].line, found[0].column) == (line, column)
    assert str(found[0]).startswith(f"{line}:{column}: ")


def test_all_problems_at_once() -> None:
    """A file with three mistakes gets three sentences, also as one refusal."""
    text = b"points: x\nfeats: 3\npionts: 2\n"
    assert [p.line for p in problems(text)] == [1, 2, 3]
    refused = read_table_rules(text)
    assert isinstance(refused, Refused)
    assert refused.code == "table-rules"
    assert refused.sentence.count("\n") == 2
    assert read_table_rules(b"points: 27") == TableRules(points=27)


def test_too_long_a_file_is_refused() -> None:
    """64 KB are enough for the rules of a table."""
    assert "64 KB" in problems(b"#" * (64 * 1024 + 1))[0].sentence


@settings(max_examples=200, deadline=None, database=None)
@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace")))
def test_no_text_breaks_the_reader(text: bytes) -> None:
    """Whatever is sent, rules or problems come out."""
    found = read_table(text)
    assert isinstance(found, TableRules) or found


def test_unknown_names_are_told_with_the_nearest(release: Catalog) -> None:
    """A name in `bar` or `allow` that nothing answers to is told; kinds and any case of a name are known."""
    found = unknown_names(rules("bar: [spells, FIREBALLS, Grapler]\nallow: [Archery]"), release)
    assert len(found) == 1
    assert "`Grapler`" in found[0]
    assert "Grappler" in found[0]


def test_allow_brings_back_what_is_barred(release: Catalog) -> None:
    """`allow` is stronger than `bar`, than `feats: no` and than `magic_items: no`."""
    watch = parsed(BASES["watch"].replace("Longsword,", "Longsword +1,"), release)
    strict = rules("bar: [feats]\nfeats: no\nmagic_items: no")
    kind = rules("bar: [feats]\nfeats: no\nmagic_items: no\nallow: [Grappler, longsword]")
    codes = {f.code for f in audit(watch, release, strict)}
    assert {"table-barred", "table-feats", "table-magic-items"} <= codes
    assert not {f.code for f in audit(watch, release, kind)} & {"table-barred", "table-feats", "table-magic-items"}


def test_extra_feats_settle_gifts(release: Catalog) -> None:
    """A feat that the table gives everybody at a level is no gift that needs a ruling; a second one is."""
    text = BASES["reed"].replace("2 Rogue\n", '2 Rogue: granted "table" feat Grappler\n')
    build = parsed(text, release)
    assert "granted-by-gm" in {f.code for f in audit(build, release)}
    assert "granted-by-gm" not in {f.code for f in audit(build, release, rules("extra_feats: [2]"))}
    plain = parsed(BASES["watch"].replace("2 Fighter\n", "2 Fighter: feat Grappler\n"), release)
    [found] = [f for f in audit(plain, release, rules("extra_feats: [2]")) if f.code == "feat-misplaced"]
    assert 'granted "table" feat Grappler' in found.message


def test_points_of_the_table_are_the_measure(release: Catalog) -> None:
    """A budget of the table takes the place of the release's, both ways."""
    text = BASES["scribe"].replace("Cha 10 (", "Cha 12 (")
    dear = parsed(text, release)  # 29 points
    assert "points-overspent" in {f.code for f in audit(dear, release)}
    assert {f.code for f in audit(dear, release, rules("points: 29"))}.isdisjoint(
        {"points-overspent", "points-left", "table-points"}
    )
    assert "points-left" in {f.code for f in audit(dear, release, rules("points: 32"))}
    assert "table-points" in {f.code for f in audit(dear, release, rules("points: 28"))}


def test_maximum_hit_points_of_the_table(release: Catalog) -> None:
    """`hit_points: maximum` takes `hp` of the die's highest number on every line after the first."""
    lines = BASES["watch"].replace("5 Fighter hp 7 #31", "5 Fighter hp 10")
    for nth in (2, 3, 4, 6):
        lines = lines.replace(f"{nth} Fighter", f"{nth} Fighter hp 10").replace(
            "3 Fighter hp 10 (Champion)", "3 Fighter (Champion) hp 10"
        )
    found = audit(parsed(lines, release), release, rules("hit_points: maximum"))
    assert "table-hit-points" not in {f.code for f in found}
    assert "roll-not-witnessed" not in {f.code for f in found}
