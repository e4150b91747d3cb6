"""Formulas: what the language says, held against a second evaluator written here, and what it refuses."""

import pickle
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError

from engine.rules.formula import MAX_DEPTH, MAX_LENGTH, Formula, FormulaError
from engine.rules.words import ATTACK_WORDS, FUNCTIONS, NUMBER_WORDS, WORN_WORDS

NUMBERS = sorted(NUMBER_WORDS)
TRUTHS = sorted(WORN_WORDS | ATTACK_WORDS)
COLUMNS = {"rages": 3, "sneak_dice": "4d6"}
STATES = {"rage", "blinded"}
LEVELS = {"rogue": 4, "blood-hunter": 2}

Scope = dict[str, Any]
# A formula as text, and the same worked out by hand.
Sample = tuple[str, Callable[[Scope], Any]]


def scope(numbers: list[int], truths: list[bool]) -> Scope:
    return {
        **dict(zip(NUMBERS, numbers, strict=True)),
        **dict(zip(TRUTHS, truths, strict=True)),
        "column": COLUMNS.__getitem__,
        "state": STATES.__contains__,
        "level_of": lambda id_: LEVELS.get(id_, 0),
        "has": {"evasion"}.__contains__,
        "knows": {"eldritch-blast"}.__contains__,
        "wields": {"club"}.__contains__,
    }


SCOPES = st.builds(
    scope,
    st.lists(st.integers(-5, 30), min_size=len(NUMBERS), max_size=len(NUMBERS)),
    st.lists(st.booleans(), min_size=len(TRUTHS), max_size=len(TRUTHS)),
)
LEAVES: st.SearchStrategy[Sample] = st.one_of(
    st.integers(0, 99).map(lambda n: (str(n), lambda s: n)),
    st.sampled_from(NUMBERS).map(lambda w: (w, lambda s: s[w])),
    st.just(("column(rages)", lambda s: 3)),
    st.just(("rogue_level", lambda s: 4)),
    st.just(("blood_hunter_level", lambda s: 2)),
    st.just(("wizard_level", lambda s: 0)),
    st.just(("level_of('rogue')", lambda s: 4)),
)


def larger(inner: st.SearchStrategy[Sample]) -> st.SearchStrategy[Sample]:
    two = st.tuples(inner, inner)

    def sign(symbol: str, work: Callable[[Any, Any], Any]) -> st.SearchStrategy[Sample]:
        return two.map(lambda t: (f"({t[0][0]}) {symbol} ({t[1][0]})", lambda s: work(t[0][1](s), t[1][1](s))))

    def named(name: str, work: Callable[[Any, Any], Any]) -> st.SearchStrategy[Sample]:
        return two.map(lambda t: (f"{name}({t[0][0]}, {t[1][0]})", lambda s: work(t[0][1](s), t[1][1](s))))

    def one(before: str, after: str, work: Callable[[Any], Any]) -> st.SearchStrategy[Sample]:
        return inner.map(lambda t: (f"{before}{t[0]}{after}", lambda s: work(t[1](s))))

    return st.one_of(
        sign("+", lambda a, b: a + b),
        sign("-", lambda a, b: a - b),
        sign("*", lambda a, b: a * b),
        named("min", min),
        named("max", max),
        one("half_down(", ")", lambda n: (n - n % 2) // 2),
        one("half_up(", ")", lambda n: (n + n % 2) // 2),
        one("third_down(", ")", lambda n: (n - n % 3) // 3),
        one("-(", ")", lambda n: -n),
        st.tuples(inner, st.integers(1, 9)).map(
            lambda t: (f"div_down({t[0][0]}, {t[1]})", lambda s: (t[0][1](s) - t[0][1](s) % t[1]) // t[1])
        ),
        st.tuples(TESTS, inner, inner).map(
            lambda t: (
                f"when({t[0][0]}, {t[1][0]}, {t[2][0]})",
                lambda s: t[1][1](s) if t[0][1](s) else t[2][1](s),
            )
        ),
    )


def comparison(left: Sample, symbol: str, right: Sample) -> Sample:
    work: Callable[[Any, Any], bool] = {
        ">=": lambda a, b: not a < b,
        "<=": lambda a, b: not b < a,
        "==": lambda a, b: a - b == 0,
        "!=": lambda a, b: a - b != 0,
        ">": lambda a, b: b < a,
        "<": lambda a, b: b > a,
    }[symbol]
    return f"{left[0]} {symbol} {right[0]}", lambda s: work(left[1](s), right[1](s))


TRUE_LEAVES: st.SearchStrategy[Sample] = st.one_of(
    st.sampled_from(TRUTHS).map(lambda w: (w, lambda s: s[w])),
    st.builds(comparison, LEAVES, st.sampled_from([">=", "<=", "==", "!=", ">", "<"]), LEAVES),
    st.sampled_from(
        [
            ("state('rage')", True),
            ("state('prone')", False),
            ("has('evasion')", True),
            ("knows('fireball')", False),
            ("wields('club')", True),
            ("true", True),
            ("false", False),
        ]
    ).map(lambda t: (t[0], lambda s: t[1])),
)
TESTS: st.SearchStrategy[Sample] = st.recursive(
    TRUE_LEAVES,
    lambda inner: st.one_of(
        st.tuples(inner, inner).map(
            lambda t: (f"({t[0][0]}) and ({t[1][0]})", lambda s: bool(t[0][1](s)) and bool(t[1][1](s)))
        ),
        st.tuples(inner, inner).map(
            lambda t: (f"({t[0][0]}) or ({t[1][0]})", lambda s: bool(t[0][1](s)) or bool(t[1][1](s)))
        ),
        inner.map(lambda t: (f"not ({t[0]})", lambda s: not t[1](s))),
    ),
    max_leaves=4,
)
SUMS = st.recursive(LEAVES, larger, max_leaves=6)


def short(sample: Sample) -> bool:
    return len(sample[0]) <= MAX_LENGTH


@settings(deadline=None)
@given(SUMS.filter(short), SCOPES)
def test_numbers_are_what_a_second_evaluator_says(sample: Sample, given_scope: Scope) -> None:
    text, by_hand = sample
    assert Formula.parse(text).evaluate(given_scope) == by_hand(given_scope)


@settings(deadline=None)
@given(TESTS.filter(short), SCOPES)
def test_conditions_are_what_a_second_evaluator_says(sample: Sample, given_scope: Scope) -> None:
    text, by_hand = sample
    assert Formula.parse(text).evaluate(given_scope) is by_hand(given_scope)


@settings(deadline=None)
@given(SUMS.filter(short))
def test_a_formula_survives_the_cache(sample: Sample) -> None:
    formula = Formula.parse(sample[0])
    again = pickle.loads(pickle.dumps(formula))
    assert again == formula
    assert hash(again) == hash(formula)
    assert again.text == formula.text


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1 + 2 * 3", 7),
        ("10 - 4 - 3", 3),
        ("-2 + 5", 3),
        ("half_up(5)", 3),
        ("half_down(5)", 2),
        ("third_down(11)", 3),
        ("dice(3, 6)", "3d6"),
        ("2d8", "2d8"),
        ("unlimited", "unlimited"),
        ("when(1 < 2, 3d6, 4d6)", "3d6"),
        ("true and not false", True),
        ("1 == 1 or 1 == 2 and 1 == 3", True),
        ("not 1 > 2", True),
        ("column(sneak_dice)", "4d6"),
        ("column('sneak_dice')", "4d6"),
        ("div_down(7, 0)", 0),
        ("2d6 == 2d6", True),
    ],
)
def test_what_a_formula_means(text: str, value: Any) -> None:
    assert Formula.parse(text).evaluate(scope([0] * len(NUMBERS), [False] * len(TRUTHS))) == value


@pytest.mark.parametrize(("plain", "value"), [(3, 3), (-2, -2), (True, True), (False, False)])
def test_plain_values(plain: int | bool, value: Any) -> None:
    formula = Formula.parse(plain)
    assert formula.evaluate({}) == value
    assert formula.constant == value


def test_constants_and_calls() -> None:
    assert Formula.parse("2d6").constant == "2d6"
    assert Formula.parse("1 + 1").constant is None
    assert list(Formula.parse("when(has('a'), column(x), column(y)) + column(z)").calls("column")) == ["x", "y", "z"]
    assert list(Formula.parse("has('a') and not (has('b') or state('c'))").calls("has")) == ["a", "b"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("profiency_bonus", "nearest: proficiency_bonus"),
        ("1 +", "cannot be read"),
        ("", "cannot be read"),
        ("__import__('os')", "cannot be read"),
        ("open('x')", "`open` is no function"),
        ("wis.score", "cannot be read"),
        ("1 / 2", "cannot be read"),
        ("half_up(1, 2)", "takes 1 to 1 arguments, not 2"),
        ("min(1)", "takes 2 to 8 arguments, not 1"),
        ("column(1 + 2)", "needs the name of a table column"),
        ("1" + " + 1" * 60, f"may have {MAX_LENGTH} characters"),
        ("2d6 + 1", "counts with dice"),
        ("half_up(1d6)", "counts numbers, not dice"),
        ("max(unlimited, 3)", "counts numbers, not dice"),
        ("2d6 > 3", "counts with dice"),
        ("when(true, 1d6, 2) - 1", "counts with dice"),
        ("(" * 2 + "-" * 60 + "1" + ")" * 2, f"nested more than {MAX_DEPTH} deep"),
    ],
)
def test_what_is_refused(text: str, said: str) -> None:
    with pytest.raises(FormulaError, match=said.replace("(", r"\(").replace("+", r"\+")):
        Formula.parse(text)


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_every_function_counts_its_arguments(name: str) -> None:
    fewest, most = FUNCTIONS[name]
    for count in (fewest - 1, most + 1):
        with pytest.raises(FormulaError, match=r"arguments|column|cannot be read"):
            Formula.parse(f"{name}({', '.join(['1'] * count)})")


class Holder(BaseModel):
    amount: Formula


@pytest.mark.parametrize("given_value", [3, "wis + 2", "2d6", True, "state('rage')"])
def test_models_keep_what_was_written(given_value: int | str | bool) -> None:
    held = Holder.model_validate({"amount": given_value})
    assert held.model_dump(mode="json") == {"amount": given_value}
    assert Holder.model_validate_json(held.model_dump_json()) == held


@pytest.mark.parametrize("given_value", ["wiz", 1.5, None, [1]])
def test_models_refuse_what_is_no_formula(given_value: Any) -> None:
    with pytest.raises(ValidationError):
        Holder.model_validate({"amount": given_value})


def test_a_word_that_the_scope_lacks_is_an_error_of_the_program() -> None:
    with pytest.raises(KeyError):
        Formula.parse("wis").evaluate({})


def test_repr_shows_the_text() -> None:
    assert repr(Formula.parse("wis + 1")) == "Formula('wis + 1')"
    assert Formula.parse("wis") != "wis"
