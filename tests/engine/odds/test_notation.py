"""Dice notation: what it means, what it refuses, and that it is bounded before it is worked out."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.odds import notation
from engine.odds.notation import Changed, Dice, Expression, Number, Sum, parse
from engine.odds.rolling import roll
from engine.problem import Refused

from . import enumerated


def read(text: str) -> Expression:
    expression = parse(text)
    assert isinstance(expression, Expression), expression
    return expression


def chances(text: str) -> dict[int, Fraction]:
    distribution = read(text).distribution()
    assert distribution.counts is not None
    return {
        value: Fraction(count, distribution.total)
        for value, count in enumerate(distribution.counts, distribution.low)
        if count
    }


def rerolled(fall: tuple[int, ...], upto: int) -> list[int]:
    """What stands if the second half of the dice are the new rolls of those that show `upto` or lower."""
    half = len(fall) // 2
    return [new if old <= upto else old for old, new in zip(fall[:half], fall[half:], strict=True)]


# Left: as a table writes it (design, section 7; common practice). Right: sides of the dice, and what a fall is worth.
WRITTEN = [
    ("2d6+3", (6, 6), lambda f: sum(f) + 3),
    ("2D6 + 3", (6, 6), lambda f: sum(f) + 3),
    ("2 d 6 plus 3", (6, 6), lambda f: sum(f) + 3),
    ("1d8+1d6+4", (8, 6), lambda f: sum(f) + 4),
    ("4d6 drop lowest", (6,) * 4, lambda f: sum(f) - min(f)),
    ("4d6, drop the lowest die", (6,) * 4, lambda f: sum(f) - min(f)),
    ("4d6 drop highest 2", (6,) * 4, lambda f: sum(sorted(f)[:2])),
    ("3d6 keep highest 2", (6,) * 3, lambda f: sum(f) - min(f)),
    ("3d6 keep 2 highest", (6,) * 3, lambda f: sum(f) - min(f)),
    ("3d6 KEEP LOWEST", (6,) * 3, min),
    ("d20", (20,), sum),
    ("d20 with advantage", (20, 20), max),
    ("d20 + 5 with advantage", (20, 20), lambda f: max(f) + 5),
    ("d20 + 1d4 - 1 with disadvantage", (20, 20, 4), lambda f: min(f[:2]) + f[2] - 1),
    ("(d20 half) + 1 with advantage", (20, 20), lambda f: max(f) // 2 + 1),
    ("8d4 half", (4,) * 8, lambda f: sum(f) // 2),
    ("2d6 + 5 half", (6, 6), lambda f: (sum(f) + 5) // 2),
    ("2d6 half + 5", (6, 6), lambda f: sum(f) // 2 + 5),
    ("2d6 + (3d4 halved)", (6, 6, 4, 4, 4), lambda f: f[0] + f[1] + sum(f[2:]) // 2),
    ("2d6 double", (6, 6), lambda f: 2 * sum(f)),
    ("1d4 − 1d6", (4, 6), lambda f: f[0] - f[1]),
    ("-1d4 minus 2", (4,), lambda f: -f[0] - 2),
    ("10 - (1d4 - 1d6)", (4, 6), lambda f: 10 - f[0] + f[1]),
    ("(((2d6)))", (6, 6), sum),
    ("7", (), lambda f: 7),
    # Great Weapon Fighting, SRD 5.1, Classes, Fighter: a 1 or 2 is rolled once more. The second pair are the new rolls.
    ("2d6 reroll 2 or lower", (6,) * 4, lambda f: sum(rerolled(f, 2))),
    ("2d6 reroll 1 or 2 once", (6,) * 4, lambda f: sum(rerolled(f, 2))),
    ("1d6 reroll 1 + 1", (6, 6), lambda f: (f[1] if f[0] == 1 else f[0]) + 1),
    ("3d4 reroll 1 drop lowest", (4,) * 6, lambda f: sum(sorted(rerolled(f, 1))[1:])),
]


@pytest.mark.parametrize(("text", "sides", "total"), WRITTEN, ids=[row[0] for row in WRITTEN])
def test_what_is_written_is_what_is_rolled(text: str, sides: tuple[int, ...], total) -> None:
    assert chances(text) == enumerated.rolled(sides, total)


def test_known_means() -> None:
    # Counted over all 1296 falls: 15869 / 1296 = 12.2446.
    assert read("4d6 drop lowest").distribution().mean() == pytest.approx(12.244598765432098)
    # Closed form: the mean of the higher of two d20.
    assert read("d20 with advantage").distribution().mean() == 13.825
    assert read("1000d6").distribution().mean() == pytest.approx(3500)


CRITICAL = [
    # SRD 5.1, Combat, Critical Hits: a dagger rolls 2d4 instead of 1d4 and then adds the modifier.
    ("1d4+3", "2d4 + 3"),
    ("2d6 + 1d8 - 1", "4d6 + 2d8 - 1"),
    ("(2d6 + 3) half", "4d6 + 3 half"),
    ("1d6 reroll 1", "1d6 reroll 1 + 1d6 reroll 1"),
    ("4d6 drop lowest + 2", "4d6 drop lowest + 4d6 drop lowest + 2"),
    ("5", "5"),
]


@pytest.mark.parametrize(("text", "doubled"), CRITICAL)
def test_a_critical_rolls_dice_twice_and_numbers_once(text: str, doubled: str) -> None:
    critical = read(text).critical()
    assert isinstance(critical, Expression)
    assert str(critical) == doubled
    assert critical.distribution() == read(doubled).distribution()


REFUSED = [
    ("", "dice-notation", "No dice are given"),
    ("   ", "dice-notation", "No dice are given"),
    ("2d6+", "dice-notation", "end too early"),
    ("(2d6", "dice-notation", "end too early"),
    (
        "4d6 drp lowest",
        "dice-notation",
        '"drp" at place 5 of the dice "4d6 drp lowest" does not fit there; did you mean "drop"?',
    ),
    ("2d6kh1", "dice-notation", '"kh" at place 4'),
    ("fire", "dice-notation", '"fire" at place 1'),
    ("2d6 with", "dice-notation", "end too early"),
    ("2d6 with advantage", "dice-notation", "has no single die"),
    ("1d20 + 1d20 with advantage", "dice-notation", "more than one"),
    ("d20 with advantage with disadvantage", "dice-notation", "rolled twice already"),
    ("4d6 drop lowest 4", "dice-notation", "cannot drop lowest 4"),
    ("4d6 keep highest 5", "dice-notation", "cannot keep highest 5"),
    ("4d6 drop lowest drop highest", "dice-notation", "already"),
    ("2d6 reroll 7", "dice-notation", "faces from 1 to 6"),
    ("2d6 reroll 0 or lower", "dice-notation", "faces from 1 to 6"),
    ("5 drop lowest", "dice-notation", '"drop" at place 3'),
    ("0d6", "dice-too-large", "1 to 1000"),
    ("1001d6", "dice-too-large", "1 to 1000"),
    ("2d0", "dice-too-large", "1 to 1000 sides"),
    ("d1001", "dice-too-large", "1 to 1000 sides"),
    ("9" * 150 + "d6", "dice-too-large", "a number of 150 digits"),
    ("1d6 + 100001", "dice-too-large", "at most 100000"),
    ("1000d1000", "dice-too-large", "999001 numbers"),
    ("+".join(["1d6"] * 21), "dice-too-large", "21 terms"),
    ("1000d6 drop lowest", "dice-too-large", "times the work of 1000d6"),
    ("1d6" + " " * 200, "dice-too-large", "203 characters"),
    ("(" * 120, "dice-notation", "end too early"),
]


@pytest.mark.parametrize(("text", "code", "words"), REFUSED, ids=[row[0][:30] for row in REFUSED])
def test_refusals_say_what_is_wrong_in_one_sentence(text: str, code: str, words: str) -> None:
    refusal = parse(text)
    assert isinstance(refusal, Refused)
    assert refusal.code == code
    assert words in refusal.sentence
    assert refusal.sentence.endswith((".", "?"))
    assert "\n" not in refusal.sentence


def test_deep_parentheses_are_read() -> None:
    assert read("(" * 99 + "1" + ")" * 99).node == Number(1)


# Expressions made as trees, so that no text of the parser is needed to get them.


@st.composite
def dice(draw: st.DrawFn) -> Dice:
    sides = draw(st.integers(1, 8))
    count = draw(st.integers(1, 3))
    again = tuple(sorted(draw(st.sets(st.integers(1, sides), max_size=2))))
    if count == 1:
        return Dice(1, sides, 1, reroll=again, twice=draw(st.sampled_from((-1, 0, 1))))
    keep = draw(st.integers(1, count))
    return Dice(count, sides, keep, highest=keep == count or draw(st.booleans()), reroll=again)


def sums(inner: st.SearchStrategy[notation.Node]) -> st.SearchStrategy[Sum]:
    single = inner.filter(lambda node: not isinstance(node, Sum))
    part = st.tuples(st.sampled_from((1, -1)), single)
    several = st.lists(part, min_size=2, max_size=3)
    negative = single.map(lambda node: [(-1, node)])
    return st.one_of(several, negative).map(lambda parts: Sum(tuple(parts)))


def changed(inner: st.SearchStrategy[notation.Node]) -> st.SearchStrategy[Changed]:
    return st.builds(Changed, inner, st.booleans())


trees = st.recursive(
    st.one_of(dice(), st.integers(0, 30).map(Number)),
    lambda inner: st.one_of(sums(inner), changed(inner)),
    max_leaves=4,
)


@settings(deadline=None)
@given(trees)
def test_the_plain_spelling_reads_back_as_the_same(tree: notation.Node) -> None:
    text = str(Expression(tree, notation.Size(0, 0, 0)))
    expression = read(text)
    assert expression.node == tree
    assert str(expression) == text
    spaced = text.upper().replace(" ", "\u00a0 ").replace("-", "\u2212")
    assert read(spaced).node == tree


@settings(deadline=None)
@given(trees)
def test_bounds_known_before_hold_after(tree: notation.Node) -> None:
    expression = read(str(Expression(tree, notation.Size(0, 0, 0))))
    distribution = expression.distribution()
    assert expression.size.low <= distribution.low
    assert distribution.high <= expression.size.high
    assert float(distribution.mass.sum()) == pytest.approx(1, abs=1e-12)
    assert expression.fixed == (len(distribution) == 1 and not any(isinstance(n, Dice) for n in notation.walk(tree)))


@settings(deadline=None, max_examples=40)
@given(trees, st.randoms(use_true_random=False))
def test_a_real_roll_is_one_of_the_totals(tree: notation.Node, random) -> None:
    expression = read(str(Expression(tree, notation.Size(0, 0, 0))))
    possible = expression.distribution().pmf()
    for _ in range(20):
        rolled = roll(expression, lambda sides: random.randint(1, sides))
        assert rolled.total in possible
        for term in rolled.terms:
            assert term.total == sum(die.face for die in term.faces if die.counts)


def test_a_real_roll_shows_every_face() -> None:
    script = iter([1, 4, 6, 4, 2])
    rolled = roll(read("4d6 reroll 1 drop lowest + 3"), lambda sides: next(script))
    (term,) = rolled.terms
    # The first die showed a 1, was rolled again and shows 4; the 2 at the end is dropped.
    assert [(die.face, die.counts, die.before) for die in term.faces] == [
        (4, True, 1),
        (6, True, None),
        (4, True, None),
        (2, False, None),
    ]
    assert (rolled.total, term.total) == (17, 14)
    assert (rolled.dice, term.dice) == ("4d6 reroll 1 drop lowest + 3", "4d6 reroll 1 drop lowest")
    faces = iter([7, 15])
    rolled = roll(read("d20 + 2 with disadvantage"), lambda sides: next(faces))
    assert rolled.total == 9
    assert [die.counts for die in rolled.terms[0].faces] == [True, False]
    assert roll(read("8 half - 1"), lambda sides: 0).total == 3
    assert roll(read("4 double"), lambda sides: 0).total == 8


def test_reading_costs_no_numpy_and_no_lark_until_dice_are_read() -> None:
    import subprocess
    import sys

    program = (
        "import sys; from engine.odds.check import Check, answer_check, as_json;"
        "assert as_json(answer_check(Check(bonus=7, dc=15)))['fraction'] == '13/20';"
        "assert 'numpy' not in sys.modules and 'lark' not in sys.modules;"
        "as_json(answer_check(Check(bonus=7, dc=15, plus='1d6', minus='1d8', advantage=True, lowest=10)));"
        "assert 'numpy' not in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
