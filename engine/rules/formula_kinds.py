"""What a formula can come to: a number, dice, `unlimited`, a truth, or other text; checked when a folio is loaded.

Columns of class tables decide with: a formula that counts with a column of dice is refused, and so is one whose field
wants a number where it gives dice.
"""

import re
from collections.abc import Callable
from typing import Any, Final, Literal

from engine.rules.formula import Formula, FormulaError, Tree
from engine.rules.words import ATTACK_WORDS, WORN_WORDS

Kind = Literal["number", "dice", "unlimited", "truth", "text"]
Kinds = frozenset[Kind]
_DICE: Final = re.compile(r"\d+d\d+")
_WORDS: Final[dict[str, str]] = {
    "number": "a whole number",
    "dice": "dice such as 1d6",
    "unlimited": "`unlimited`",
    "truth": "true or false",
    "text": "a text",
}
NUMBER: Final[Kinds] = frozenset({"number"})
TRUTH: Final[Kinds] = frozenset({"truth", "number"})
COUNTED: Final[Kinds] = frozenset({"number", "unlimited"})
ROLLED: Final[Kinds] = frozenset({"number", "dice"})
# Grant kind and field -> what it takes; what is not named here takes a number.
TAKES: Final[dict[tuple[str, str], Kinds]] = {
    ("extra-damage", "dice"): ROLLED,
    ("weapon-die", "die"): ROLLED,
    ("natural-weapon", "die"): ROLLED,
    ("pool", "die"): ROLLED,
    ("pool", "uses"): COUNTED,
    ("extra-die", "die"): ROLLED,
    ("extra-spells", "uses"): COUNTED,
}
Columns = Callable[[str], "Kinds | None"]


def kind_of_text(text: str) -> Kind:
    """Return what a word or text is: dice, `unlimited`, or other text."""
    if text == "unlimited":
        return "unlimited"
    return "dice" if _DICE.fullmatch(text) else "text"


def kind_of_cell(cell: Any) -> Kind:
    """Return what a cell of a class table is; an empty one counts as 0."""
    return kind_of_text(cell) if isinstance(cell, str) else "number"


def takes(grant: str, field: str) -> Kinds:
    """Return what a field of a grant takes; `when` and `requires` take a condition."""
    return TRUTH if field in ("when", "requires") else TAKES.get((grant, field), NUMBER)


def check_kind(formula: Formula, wanted: Kinds, columns: Columns) -> None:
    """Look at what a formula can come to.

    columns: returns what the cells of a table column are, None where nothing is known of it. Raises: FormulaError.
    """
    found = _kinds(formula.tree, columns, formula.text)
    wrong = found - wanted
    if wrong:
        given = " or ".join(_WORDS[kind] for kind in sorted(wrong))
        expected = " or ".join(_WORDS[kind] for kind in sorted(wanted))
        raise FormulaError(f"`{formula.text}` gives {given}; {expected} is expected here")


def _kinds(tree: Tree, columns: Columns, source: str) -> Kinds:
    kind = tree[0]
    if kind == "value":
        value = tree[1]
        if isinstance(value, bool):
            return frozenset({"truth"})
        return NUMBER if isinstance(value, int) else frozenset({kind_of_text(value)})
    if kind == "word":
        word = tree[1]
        if word == "unlimited":
            return frozenset({"unlimited"})
        return frozenset({"truth"}) if word in WORN_WORDS or word in ATTACK_WORDS else NUMBER
    if kind == "call":
        return _call(tree[1], tree[2], columns, source)
    if kind == "comparison":
        left, right = (_kinds(part, columns, source) for part in tree[2:])
        if tree[1] not in ("==", "!="):
            for side in (left, right):
                _numbers(side, source, "compares")
        return frozenset({"truth"})
    parts = [_kinds(part, columns, source) for part in tree[1:]]
    if kind in ("both", "either", "negation"):
        for part in parts:
            if not part <= TRUTH:
                raise FormulaError(f"`{source}` joins with and, or, not what is neither true nor false")
        return frozenset({"truth"}) if kind == "negation" else frozenset().union(*parts)
    for part in parts:
        _numbers(part, source, "counts")
    return NUMBER


def _call(name: str, args: tuple[Tree, ...], columns: Columns, source: str) -> Kinds:
    if name == "column":
        known = columns(str(args[0][1]))
        return known if known is not None else NUMBER
    if name in ("state", "has", "knows", "wields", "level_of"):
        if args[0][0] != "value" or not isinstance(args[0][1], str):
            raise FormulaError(f"`{name}` in `{source}` takes an id in quotes, such as {name}('rage')")
        return NUMBER if name == "level_of" else frozenset({"truth"})
    kinds = [_kinds(arg, columns, source) for arg in args]
    if name == "when":
        if not kinds[0] <= TRUTH:
            raise FormulaError(f"`when` in `{source}` begins with a condition, something true or false")
        return kinds[1] | kinds[2]
    for each in kinds:
        _numbers(each, source, f"`{name}` counts")
    return ROLLED if name == "dice" else NUMBER


def _numbers(kinds: Kinds, source: str, does: str) -> None:
    wrong = kinds - TRUTH
    if wrong:
        given = " or ".join(_WORDS[kind] for kind in sorted(wrong))
        raise FormulaError(f"`{source}` {does} with {given}; a formula counts with whole numbers only")
