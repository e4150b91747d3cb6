"""Formulas and conditions of folios: a closed little language, parsed by a grammar and never run as Python.

The parser is loaded only when a folio is read from its source; a formula that comes from the cache brings its
tree along. A formula costs at most its own size to evaluate: there are no loops and no recursion in the language.
"""

import operator
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final, Self

from pydantic import GetCoreSchemaHandler
from pydantic_core import core_schema

from engine.rules.limits import MAX_DICE, MAX_NUMBER, MAX_SIDES
from engine.rules.words import ATTACK_WORDS, FUNCTIONS, NUMBER_WORDS, WORN_WORDS

if TYPE_CHECKING:
    from lark import Lark

Value = int | bool | str
Tree = tuple[Any, ...]
Scope = Mapping[str, Any]
MAX_LENGTH: Final = 200
MAX_DEPTH: Final = 24

_COMPARE: Final[dict[str, Callable[[Any, Any], bool]]] = {
    ">=": operator.ge,
    "<=": operator.le,
    "==": operator.eq,
    "!=": operator.ne,
    ">": operator.gt,
    "<": operator.lt,
}
_SIMPLE: Final[dict[str, Callable[..., Value]]] = {
    "min": min,
    "max": max,
    "half_down": lambda n: n // 2,
    "half_up": lambda n: -(-n // 2),
    "third_down": lambda n: n // 3,
    "div_down": lambda n, d: n // d if d else 0,
    "dice": lambda n, sides: f"{min(n, MAX_DICE)}d{min(sides, MAX_SIDES)}" if n > 0 and sides > 0 else 0,
}


class FormulaError(ValueError):
    """A formula that does not follow the grammar, or uses a word that no rule gives."""


class Formula:
    """A number, die or truth value of a folio, written as a small expression.

    text: as written. tree: parsed form, nested tuples. `evaluate(scope)` looks words up in the scope; the functions
    `column`, `level_of`, `state`, `has`, `knows` and `wields` are callables of the scope under their own names.
    """

    __slots__ = ("_parts", "_run", "text", "tree")

    def __init__(self, text: str, tree: Tree) -> None:
        self.text = text
        self.tree = tree
        self._run: Callable[[Scope], Any] | None = None
        self._parts = 0

    @classmethod
    def parse(cls, source: str | int | bool) -> Self:
        """Return the formula of a text or a plain number.

        Raises: FormulaError with one sentence saying what is wrong.
        """
        if isinstance(source, bool):
            return cls(str(source).lower(), ("value", source))
        if isinstance(source, int):
            return cls(str(source), ("value", source))
        if not isinstance(source, str):
            raise FormulaError(f"a formula is a text, a whole number, true or false; this is `{source}`")
        if len(source) > MAX_LENGTH:
            raise FormulaError(f"a formula may have {MAX_LENGTH} characters; this one has {len(source)}")
        return cls(source, _parse(source))

    @property
    def constant(self) -> Value | None:
        """The value of a formula that is only a literal; None for any other."""
        return self.tree[1] if self.tree[0] == "value" else None

    @property
    def parts(self) -> int:
        """How many words, numbers, calls and signs it is made of: what it costs at most to work out."""
        if not self._parts:
            self._parts = _parts_of(self.tree)
        return self._parts

    def evaluate(self, scope: Scope) -> Any:
        """Return the value in a scope: int, bool, dice text such as `2d6`, or `unlimited`.

        Raises: KeyError for a word that the scope does not give (the loader refuses unknown words, so this is a bug).
        """
        if self._run is None:
            self._run = _bounded(self.tree)
        return self._run(scope)

    def calls(self, function: str) -> Iterator[str]:
        """Yield the first argument, if it is a word or text, of every call of a function in the formula."""
        yield from _calls(self.tree, function)

    def __repr__(self) -> str:
        return f"Formula({self.text!r})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Formula) and other.tree == self.tree

    def __hash__(self) -> int:
        return hash(self.tree)

    def __reduce__(self) -> tuple[type["Formula"], tuple[str, Tree]]:
        return Formula, (self.text, self.tree)

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        def check(value: Any) -> Formula:
            return value if isinstance(value, Formula) else cls.parse(value)

        either = core_schema.union_schema(
            [
                core_schema.bool_schema(strict=True),
                core_schema.int_schema(strict=True),
                core_schema.str_schema(),
            ]
        )
        return core_schema.json_or_python_schema(
            json_schema=core_schema.no_info_after_validator_function(check, either),
            python_schema=core_schema.no_info_plain_validator_function(check),
            serialization=core_schema.plain_serializer_function_ser_schema(_plain),
        )


def _plain(formula: Formula) -> Value:
    constant = formula.constant
    return formula.text if constant is None else constant


@lru_cache(maxsize=1)
def _grammar() -> "Lark":
    from lark import Lark

    return Lark((files("engine.rules") / "formula.lark").read_text(), parser="lalr", maybe_placeholders=False)


@lru_cache(maxsize=2048)  # folios write the same few formulas again and again
def _parse(source: str) -> Tree:
    from lark import Token, UnexpectedInput
    from lark import Tree as Parsed

    try:
        parsed = _grammar().parse(source)
    except UnexpectedInput as error:
        place = getattr(error, "column", 0)
        if source.count("(") != source.count(")"):
            raise FormulaError(
                f"a parenthesis of the formula `{source}` is not closed; between {{ and }} a formula with commas"
                ' stands in quotes, such as amount: "max(1, wis)"'
            ) from error
        raise FormulaError(
            f"the formula `{source}` cannot be read from column {place} on; expected words such as "
            "proficiency_bonus, wis, class_level, whole numbers, dice such as 1d6, and + - * and or not"
        ) from error

    def build(node: Any, depth: int) -> Tree:
        if depth > MAX_DEPTH:
            raise FormulaError(f"the formula `{source}` is nested more than {MAX_DEPTH} deep")
        if isinstance(node, Token):  # pragma: no cover - the grammar names every alternative
            raise FormulaError(f"the formula `{source}` cannot be read at `{node}`")
        assert isinstance(node, Parsed)
        kind, parts = node.data, node.children
        match kind:
            case "number":
                return ("value", _whole(str(parts[0]), source))
            case "dice":
                return ("value", _dice(str(parts[0]), source))
            case "text":
                return ("value", str(parts[0])[1:-1])
            case "yes" | "no":
                return ("value", kind == "yes")
            case "word":
                return ("word", known_word(str(parts[0])))
            case "call":
                name, args = str(parts[0]), parts[1:]
                if name not in FUNCTIONS:
                    raise FormulaError(f"`{name}` is no function of formulas; known are {', '.join(sorted(FUNCTIONS))}")
                fewest, most = FUNCTIONS[name]
                if not fewest <= len(args) <= most:
                    raise FormulaError(f"`{name}` takes {fewest} to {most} arguments, not {len(args)}")
                if name == "column":
                    return ("call", name, (_column_name(args[0], source),))
                return ("call", name, tuple(build(a, depth + 1) for a in args))
            case "comparison":
                return ("comparison", str(parts[1]), build(parts[0], depth + 1), build(parts[2], depth + 1))
            case _:
                return (str(kind), *(build(p, depth + 1) for p in parts))

    tree = build(parsed, 0)
    _text_stays_alone(tree, source)
    return tree


def _whole(text: str, source: str) -> int:
    number = int(text)  # a formula is short, so is every number in it
    if number > MAX_NUMBER:
        raise FormulaError(f"the number {text[:20]} in `{source}` is too large; formulas count up to {MAX_NUMBER:,}")
    return number


def _dice(text: str, source: str) -> str:
    count, sides = (int(part) for part in text.split("d"))
    if not 1 <= count <= MAX_DICE or not 1 <= sides <= MAX_SIDES:
        raise FormulaError(f"`{text}` in `{source}` is out of bounds; dice go from 1d1 to {MAX_DICE}d{MAX_SIDES}")
    return f"{count}d{sides}"


def _text_stays_alone(tree: Tree, source: str) -> bool:
    """Tell whether a part gives text (dice, `unlimited`). Raises: FormulaError where numbers are needed of it."""
    kind = tree[0]
    if kind == "value":
        return isinstance(tree[1], str)
    if kind == "word":
        return bool(tree[1] == "unlimited")
    if kind == "call":
        name, args = tree[1], [_text_stays_alone(part, source) for part in tree[2]]
        if name == "when":
            return args[1] or args[2]
        if name in _SIMPLE and any(args):
            raise FormulaError(f"`{name}` in `{source}` counts numbers, not dice or other text")
        return bool(name == "dice")
    parts = [_text_stays_alone(part, source) for part in tree[1:] if isinstance(part, tuple)]
    if any(parts) and kind not in ("both", "either", "negation") and tree[1] not in ("==", "!="):
        raise FormulaError(f"`{source}` counts with dice or other text; a formula counts with numbers only")
    return any(parts) and kind in ("both", "either")


def _column_name(node: Any, source: str) -> Tree:
    if node.data not in ("word", "text"):
        raise FormulaError(f"`column` in `{source}` needs the name of a table column")
    return ("value", str(node.children[0]).strip("'"))


def known_word(word: str) -> str:
    """Return the word if formulas may use it. Raises: FormulaError naming the nearest words."""
    if word in NUMBER_WORDS or word in WORN_WORDS or word in ATTACK_WORDS or word == "unlimited":
        return word
    if word.endswith("_level"):
        return word  # levels in a class of any folio; 0 where the build has none
    from engine.rules.names import nearest

    near = nearest(word, [*NUMBER_WORDS, *WORN_WORDS, *ATTACK_WORDS])
    hint = f"; nearest: {', '.join(near)}" if near else ""
    raise FormulaError(f"`{word}` is no word of formulas{hint}")


def _calls(tree: Tree, function: str) -> Iterator[str]:
    if tree[0] == "call" and tree[1] == function and tree[2][0][0] in ("value", "word"):
        yield str(tree[2][0][1])
    for part in tree[1:]:
        if isinstance(part, tuple):
            if part and isinstance(part[0], str):
                yield from _calls(part, function)
            else:
                for inner in part:
                    yield from _calls(inner, function)


def _parts_of(tree: Tree) -> int:
    if tree[0] in ("value", "word"):
        return 1
    parts = tree[2] if tree[0] == "call" else tree[1:]
    return 1 + sum(_parts_of(part) for part in parts if isinstance(part, tuple))


def _counts(tree: Tree) -> bool:
    """Tell whether a formula adds or multiplies anywhere."""
    if tree[0] in ("plus", "minus", "times"):
        return True
    parts = tree[2] if tree[0] == "call" else tree[1:]
    return tree[0] not in ("value", "word") and any(_counts(part) for part in parts if isinstance(part, tuple))


def _bounded(tree: Tree) -> Callable[[Scope], Any]:
    """Return what evaluates a formula; a sum or product never comes to more than the limit, so numbers stay small."""
    run = _compile(tree)
    if not _counts(tree):
        return run

    def held(scope: Scope) -> Any:
        value = run(scope)
        return value if not isinstance(value, int) else max(-MAX_NUMBER, min(MAX_NUMBER, value))

    return held


def _compile(tree: Tree) -> Callable[[Scope], Any]:
    kind = tree[0]
    if kind == "value":
        value = tree[1]
        return lambda scope: value
    if kind == "word":
        word = tree[1]
        if word == "unlimited":
            return lambda scope: word
        if word.endswith("_level") and word not in NUMBER_WORDS:
            class_id = word.removesuffix("_level").replace("_", "-")
            return lambda scope: scope["level_of"](class_id)
        return lambda scope: scope[word]
    if kind == "call":
        return _compile_call(tree[1], [_compile(a) for a in tree[2]])
    if kind == "comparison":
        compare, left, right = _COMPARE[tree[1]], _compile(tree[2]), _compile(tree[3])
        return lambda scope: compare(left(scope), right(scope))
    parts = [_compile(p) for p in tree[1:]]
    first = parts[0]
    if kind == "negation":
        return lambda scope: not first(scope)
    if kind == "negative":
        return lambda scope: -first(scope)
    second = parts[1]
    match kind:
        case "either":
            return lambda scope: first(scope) or second(scope)
        case "both":
            return lambda scope: first(scope) and second(scope)
        case "plus":
            return lambda scope: first(scope) + second(scope)
        case "minus":
            return lambda scope: first(scope) - second(scope)
        case _:
            return lambda scope: first(scope) * second(scope)


def _compile_call(name: str, args: list[Callable[[Scope], Any]]) -> Callable[[Scope], Any]:
    if name == "when":
        test, then, otherwise = args
        return lambda scope: then(scope) if test(scope) else otherwise(scope)
    simple = _SIMPLE.get(name)
    if simple is not None:
        return lambda scope: simple(*(a(scope) for a in args))
    first = args[0]
    return lambda scope: scope[name](first(scope))
