"""Formulas of folios in words: `max(1, cha)` is “Charisma modifier, at least 1”."""

from dataclasses import dataclass
from typing import Any, Final

from engine.rules.catalog import Catalog
from engine.rules.content import ClassContent, Subclass
from engine.rules.formula import Formula, Tree
from engine.rules.words import ABILITY_NAMES

_WORDS: Final = {
    "proficiency_bonus": "proficiency bonus",
    "character_level": "character level",
    "no_armor": "no armor worn",
    "light_armor": "light armor worn",
    "medium_armor": "medium armor worn",
    "heavy_armor": "heavy armor worn",
    "metal_armor": "metal armor worn",
    "shield": "a shield held",
    "weapon": "with a weapon",
    "unarmed": "unarmed",
    "spell": "with a spell",
    "cantrip": "with a cantrip",
    "melee": "in melee",
    "ranged": "ranged",
    "thrown": "thrown",
    "simple": "simple weapon",
    "martial": "martial weapon",
    "light": "light weapon",
    "heavy": "heavy weapon",
    "finesse": "finesse weapon",
    "reach": "reach weapon",
    "loading": "loading weapon",
    "ammunition": "weapon with ammunition",
    "versatile": "versatile weapon",
    "two_handed": "held in both hands",
    "one_handed": "held in one hand",
    "off_hand": "in the off hand",
    "main_hand": "in the main hand",
    "sole_weapon": "no weapon in the other hand",
    "monk_weapon": "monk weapon",
    "by_strength": "using Strength",
    "magic": "magic weapon",
    "proficient": "proficient with it",
    "unlimited": "unlimited",
}
_NOT: Final = {
    "light_armor": "no light armor worn",
    "medium_armor": "no medium armor worn",
    "heavy_armor": "no heavy armor worn",
    "metal_armor": "no metal armor worn",
    "no_armor": "armor worn",
    "shield": "no shield held",
}
_COMPARED: Final = {
    ">=": "at least",
    "<=": "at most",
    "==": "equal to",
    "!=": "other than",
    ">": "above",
    "<": "below",
}
_CLASS_KINDS: Final = ("class", "subclass")


@dataclass(frozen=True, slots=True)
class Speaker:
    """Puts formulas into words. owner: kind and id of what gives the feature, whose level and table they speak of."""

    catalog: Catalog
    owner: tuple[str, str] | None = None

    def words(self, formula: Formula) -> str:
        """Return a formula in words; a plain number or die as it is."""
        return self._said(formula.tree)

    def level_word(self) -> str:
        """Return what the owner's own level is called: `paladin level`, `level`."""
        if self.owner is None or self.owner[0] not in _CLASS_KINDS:
            return "level"
        kind, id_ = self.owner
        subclass = self.catalog.subclass(id_) if kind == "subclass" else None
        of = subclass.of if subclass is not None and subclass.of else id_
        return f"{self.catalog.name_of('class', of).lower()} level"

    def _said(self, tree: Tree) -> str:
        kind = tree[0]
        match kind:
            case "value":
                return str(tree[1])
            case "word":
                return self._word(tree[1])
            case "call":
                return self._call(tree[1], tree[2])
            case "comparison":
                return f"{self._said(tree[2])} {_COMPARED[tree[1]]} {self._said(tree[3])}"
            case "negation":
                inner = tree[1]
                if inner[0] == "word" and inner[1] in _NOT:
                    return _NOT[inner[1]]
                return f"not {self._said(inner)}"
            case "negative":
                return f"minus {self._said(tree[1])}"
            case "both":
                return ", ".join(self._alternatives(part) for part in _flat(tree, "both"))
            case "either":
                return " or ".join(self._said(part) for part in _flat(tree, "either"))
            case "times":
                return f"{self._said(tree[1])} × {self._said(tree[2])}"
            case _:
                sign = "+" if kind == "plus" else "−"
                return f"{self._said(tree[1])} {sign} {self._said(tree[2])}"

    def _alternatives(self, tree: Tree) -> str:
        words = self._said(tree)
        return f"either {words}" if tree[0] == "either" else words

    def _word(self, word: str) -> str:
        ability: Any = word.removesuffix("_score")
        if ability in ABILITY_NAMES:
            return f"{ABILITY_NAMES[ability]} {'score' if word.endswith('_score') else 'modifier'}"
        if word == "class_level":
            return self.level_word()
        if word.endswith("_level") and word not in _WORDS:
            class_id = word.removesuffix("_level").replace("_", "-")
            return f"{self.catalog.name_of('class', class_id).lower()} level"
        return _WORDS.get(word, word.replace("_", " "))

    def _call(self, name: str, args: tuple[Tree, ...]) -> str:
        first = args[0]
        match name:
            case "max" | "min":
                limit = next((a for a in args if a[0] == "value"), None)
                others = [self._said(a) for a in args if a is not limit]
                if limit is not None and len(others) == 1:
                    return f"{others[0]}, at {'least' if name == 'max' else 'most'} {self._said(limit)}"
                which = "higher" if name == "max" else "lower"
                return f"the {which} of {' and '.join(self._said(a) for a in args)}"
            case "half_down" | "half_up" | "third_down":
                part, _, way = name.partition("_")
                of = "half" if part == "half" else "a third of"
                return f"{of} {self._said(first)} rounded {way}"
            case "div_down":
                return f"{self._said(first)} divided by {self._said(args[1])} rounded down"
            case "column":
                return self._column(str(first[1]))
            case "dice":
                return f"{self._said(first)}d{self._said(args[1])}"
            case "when":
                return f"{self._said(args[1])} if {self._said(first)}, otherwise {self._said(args[2])}"
            case "level_of":
                return f"{self.catalog.name_of('class', str(first[1])).lower()} level"
        return self._asked(name, str(first[1]))

    def _asked(self, name: str, id_: str) -> str:
        kinds = {
            "state": ("state", "condition"),
            "knows": ("spell",),
            "wields": ("item",),
            "has": ("feature",),
        }[name]
        called = next((n.name for kind in kinds if (n := self.catalog.named(kind, id_))), id_.replace("-", " "))
        verb = {"state": "while in", "knows": "knowing", "wields": "with a", "has": "having"}[name]
        return f"{verb} {called}"

    def _column(self, name: str) -> str:
        cells = self._cells(name)
        if cells is None:
            return f"{name.replace('_', ' ')} of the table"
        steps: list[str] = []
        before: object = None
        for level, cell in enumerate(cells, 1):
            if cell is not None and cell != before:
                steps.append(f"{cell} from level {level}" if not steps else f"{cell} from {level}")
            before = cell
        return ", ".join(steps)

    def _cells(self, name: str) -> tuple[Any, ...] | None:
        if self.owner is None:
            return None
        content: ClassContent | Subclass | None
        if self.owner[0] == "class":
            content = self.catalog.class_(self.owner[1])
        elif self.owner[0] == "subclass":
            content = self.catalog.subclass(self.owner[1])
            if content is not None and name not in content.tables:
                content = self.catalog.class_(content.of or "")
        else:
            return None
        return None if content is None else content.tables.get(name)


def _flat(tree: Tree, kind: str) -> list[Tree]:
    if tree[0] != kind:
        return [tree]
    return [part for inner in tree[1:] for part in _flat(inner, kind)]
