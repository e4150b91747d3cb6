"""Three-way joining: what two sides made of one build, in one build, or the clashes that stand in the way."""

from collections.abc import Callable
from typing import Any, Final, NamedTuple

from pydantic import BaseModel, ConfigDict, JsonValue, ValidationError

from engine.build.atoms import MANY, Data, Key, assembled, atoms_of, group_of, numbered
from engine.build.document import Build, dump
from engine.build.edits import DEFAULTS, pointer, said
from engine.build.merge import merge_lists, order_of


class Clash(BaseModel):
    """One place that both sides changed differently: JSON pointer, the three values (null: nothing), and in words."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    path: str
    base: JsonValue = None
    mine: JsonValue = None
    theirs: JsonValue = None
    sentence: str


class Joined(BaseModel):
    """The joined build, or None and the clashes."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    build: Build | None
    clashes: tuple[Clash, ...] = ()


def join(base: Build, mine: Build, theirs: Build) -> Joined:
    """Return what both sides made of `base`: field by field, the order by list merge, items by keyword and name.

    A field that one side changed is taken from it; one that both changed alike, once. If anything clashes, there is no
    build and every clash is named.
    """
    if mine in (base, theirs):
        return Joined(build=theirs)
    if theirs == base:
        return Joined(build=mine)
    work = _Join()
    data = work.document(Three(dump(base), dump(mine), dump(theirs)))
    if work.clashes:
        return Joined(build=None, clashes=tuple(work.clashes))
    try:
        return Joined(build=Build.model_validate(data))
    except ValidationError as error:
        reason = error.errors(include_url=False)[0]["msg"].removeprefix("Value error, ")
        sentence = f"The changes of both sides together make no build: {reason}."
        orders = Three(base, mine, theirs).map(lambda build: list(build.order))
        return Joined(build=None, clashes=(Clash(path="/order", **orders._asdict(), sentence=sentence),))


class Three(NamedTuple):
    """One value on the three sides."""

    base: Any
    mine: Any
    theirs: Any

    def map(self, change: Callable[[Any], Any]) -> "Three":
        """Return what a function makes of each side."""
        return Three(*(change(side) for side in self))

    def get(self, key: Any, default: Any = None) -> "Three":
        """Return what stands under a key on each side."""
        return self.map(lambda side: side.get(key, default))

    def only(self, *keys: str) -> "Three":
        """Return mappings of the keys that each side has of those named."""
        return self.map(lambda side: {key: side[key] for key in keys if key in side})

    @property
    def everywhere(self) -> bool:
        """Whether all three sides have a value."""
        return all(side is not None for side in self)

    @property
    def settled(self) -> bool:
        """Whether at most one side changed the value, or both alike."""
        return self.mine in (self.base, self.theirs) or self.theirs == self.base

    @property
    def newest(self) -> Any:
        """The value, where it is settled."""
        return self.theirs if self.mine in (self.base, self.theirs) else self.mine


Merge = Callable[[str, Three, str], Any]
# Lists of the document whose members are told apart by a key.
_KEYS: Final[dict[str, Callable[[Any], Key]]] = {
    "folios": lambda folio: (folio["id"],),
    "gear": lambda pick: (pick["id"],),
    "prepared": lambda prepared: (prepared.get("of"),),
    "goals": lambda goal: (goal["form"], goal.get("name"), goal.get("text")),
    "notes": lambda note: (note,),
}


class _Join:
    """Joins plain stored data; clashes gather on the side."""

    def __init__(self) -> None:
        self.clashes: list[Clash] = []

    def clash(self, path: str, sides: Three, what: str = "") -> Any:
        """Note a clash; what: which part of the place, in words. Returns my side, so that the work goes on."""
        part = f"{what} of {said(path)}" if what else said(path)
        sentence = f"Both sides changed {part}, each in another way."
        self.clashes.append(Clash(path=path, **sides._asdict(), sentence=sentence))
        return sides.mine

    def value(self, path: str, sides: Three, what: str = "") -> Any:
        """Join one value as a whole."""
        return sides.newest if sides.settled else self.clash(path, sides, what)

    # -- the document -------------------------------------------------------------------------------------------

    def document(self, sides: Three) -> Data:
        """Return the joined document; fields that are as by default are left out."""
        found: Data = {name: self.value(f"/{name}", self._field(sides, name)) for name in ("name", "concept", "rules")}
        found["scores"] = self.scores(sides.get("scores"))
        for name in ("species", "background"):
            found[name] = self.origin(name, sides.get(name))
        found["order"] = self.order(sides.get("order", []))
        found["levels"] = self.levels(sides.get("levels", {}))
        merges: dict[str, Merge] = {"gear": self.pick, "prepared": self.prepared}
        for name, key in _KEYS.items():
            found[name] = self.listed(f"/{name}", self._field(sides, name), key, merges.get(name, self.value))
        return {"schema": sides.mine["schema"], **{k: v for k, v in found.items() if v is not None}}

    @staticmethod
    def _field(sides: Three, name: str) -> Three:
        return sides.get(name, DEFAULTS.get(f"/{name}"))

    def scores(self, sides: Three) -> Data | None:
        """Join scores ability by ability; method and cited roll belong together."""
        if sides.settled or not sides.everywhere:
            whole: Data | None = self.value("/scores", sides)
            return whole
        values = sides.get("values")
        joined = {
            ability: self.value(pointer("scores", "values", ability), values.get(ability)) for ability in values.mine
        }
        return {"values": joined, **self.value("/scores/method", sides.only("method", "roll"))}

    def origin(self, name: str, sides: Three) -> Data | None:
        """Join species or background: item by item where all sides have the same one."""
        if not sides.settled and sides.everywhere:
            who = sides.only("id", "name")
            if who.base == who.mine == who.theirs:
                items = self.items(pointer(name, "items"), sides.get("items", []))
                return {**who.mine, "items": items}
        whole: Data | None = self.value(f"/{name}", sides)
        return whole

    def order(self, sides: Three) -> list[str]:
        """Join the classes by level as a list of repeating members."""
        merged = sides.newest if sides.settled else merge_lists(*sides)
        order: list[str] = self.clash("/order", sides) if merged is None else merged
        return order

    def levels(self, sides: Three) -> Data:
        """Join the lines; a line that says nothing is not stored, so an absent one is an empty one."""
        found: Data = {}
        for class_id in dict.fromkeys(class_id for side in sides for class_id in side):
            lines = sides.get(class_id, {})
            for nth in sorted({nth for side in lines for nth in side}, key=int):
                line = self.line(pointer("levels", class_id, nth), lines.get(nth, {}))
                if line:
                    found.setdefault(class_id, {})[nth] = line
        return found

    def line(self, path: str, sides: Three) -> Data:
        """Join one line: subclass, hit points with their roll, items."""
        if sides.settled:
            return dict(sides.newest)
        joined = {
            **self.value(path, sides.only("subclass"), "the subclass"),
            **self.value(path, sides.only("hp", "roll"), "the hit points"),
        }
        items = self.items(path, sides.get("items", []))
        return {**joined, "items": items} if items else joined

    # -- items and picks ----------------------------------------------------------------------------------------

    def items(self, path: str, sides: Three) -> list[Data]:
        """Join items by keyword and name."""
        if sides.settled:
            return list(sides.newest)
        atoms = sides.map(atoms_of)
        for group in dict.fromkeys(group_of(key) for side in atoms for key, _ in side):
            alike = Three(*([pair for pair in side if group_of(pair[0]) == group] for side in atoms))
            self._both_replaced(path, alike, _named(group))
        return assembled(self._pairs(path, atoms, self._atom))

    def _both_replaced(self, path: str, pairs: Three, what: str = "") -> None:
        """Note a clash if both sides put different things in the place of the same one."""
        old, one, other = pairs.map(lambda side: {key for key, _ in side})
        if old - one - other and one - old and other - old and one - old != other - old:
            self.clash(path, pairs.map(lambda side: [value for _, value in side]), what)

    def _atom(self, path: str, sides: Three, what: str = "") -> Any:
        if sides.everywhere and isinstance(sides.mine, dict) and "pick" in sides.mine:
            return {**sides.mine, "pick": self.pick(path, sides.get("pick"), what)}
        return self.value(path, sides, what)

    def pick(self, path: str, sides: Three, what: str = "") -> Data:
        """Join one pick: count and bonus together, and its items."""
        if sides.settled or not sides.everywhere:
            whole: Data = self.value(path, sides, what)
            return whole
        joined: Data = self.value(path, sides.only("id", "count", "bonus"), what)
        items = self.items(path, sides.get("items", []))
        return {**joined, "items": items}

    def prepared(self, path: str, sides: Three, what: str = "") -> Data:
        """Join one prepared list pick by pick."""
        if sides.settled or not sides.everywhere:
            whole: Data = self.value(path, sides, what)
            return whole
        picks = self.listed(path, sides.get("picks"), _KEYS["gear"], self.pick)
        return {**sides.mine, "picks": picks}

    # -- lists --------------------------------------------------------------------------------------------------

    def listed(self, path: str, sides: Three, key: Callable[[Any], Key], merge: Merge) -> list[Any]:
        """Join lists whose members are told apart by a key."""
        if sides.settled:
            return list(sides.newest)
        pairs = sides.map(lambda side: numbered((key(member), member) for member in side))
        self._both_replaced(path, pairs)
        return [value for _, value in self._pairs(path, pairs, merge)]

    def _pairs(self, path: str, pairs: Three, merge: Merge) -> list[tuple[Key, Any]]:
        sides = pairs.map(dict)
        found: dict[Key, Any] = {}
        for key in dict.fromkeys(key for side in sides for key in side):
            values = sides.get(key)
            what = _named(key[:-1])
            gone = values.mine is None or values.theirs is None
            if not gone:
                found[key] = merge(path, values, what)
            elif not values.settled:
                # Changed here, taken away there: the work goes on with what is left of it.
                self.clash(path, values, what)
                found[key] = values.theirs if values.mine is None else values.mine
            elif values.newest is not None:
                found[key] = values.newest
        return [(key, found[key]) for key in order_of(list(found), *(list(side) for side in sides))]


def _named(key: Key) -> str:
    """Return what the key of an item or of a list's member means, in words, ids in place of names."""
    match key:
        case ("increase", *_):
            return "the increases"
        case ("choose", str(keyword), _, str(picked)):
            return f"the {keyword} {picked}"
        case ("choose", str(keyword), *_):
            return f"the {keyword} picks" if keyword in MANY else f"the {keyword}"
        case ("swap", str(keyword), str(old)):
            return f"the swap of the {keyword} {old}"
        case ("swap", *_):
            return "the swaps"
        case ("gain" | "lose", str(kind), *picked):
            return f"the {kind} of {picked[0]}" if picked else f"the {kind}"
    return f"`{' '.join(str(part) for part in key if part is not None)}`"
