"""Every grant of the shipped folio, a small build that has it, and what changes when the grant is changed.

A grant is changed inside the content in memory, for the time of one look (`changed`): the folio's files stay as they
are. What is compared is everything that a build shows: numbers with their reasons, notes, open choices, spells.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Final

from engine.audit import audit, goals
from engine.build.document import Build, Goal, Item, Origin, Pick
from engine.rules.content import ChoiceList, ClassContent, Feature, State
from engine.rules.formula import Formula
from engine.rules.grants import AnyGrant
from engine.rules.grants.choices import Choice
from engine.sheet import gather
from engine.sheet.exertion import exertion
from engine.sheet.number import Number
from engine.sheet.plan import Plan
from engine.sheet.whole import at_level
from tests.engine.sheet.make import build, catalog, gift, pick

# -- where grants stand ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Place:
    """A grant of the folio. holder: the content object with it in `attribute`; owner: kind and id of what gives it."""

    group: str
    name: str
    holder: Any
    attribute: str
    index: int
    owner: tuple[str, str]
    feature: Feature | None = None

    @property
    def grant(self) -> AnyGrant:
        """The grant as the folio has it."""
        found: AnyGrant = getattr(self.holder, self.attribute)[self.index]
        return found


def places() -> Iterator[Place]:
    """Yield every grant of every class, feature, feat, state and condition of the release."""
    content = catalog()
    for named in content.every("class"):
        entry = named.entry
        assert isinstance(entry, ClassContent)
        for index in range(len(entry.start)):
            yield Place(f"class {entry.id}", f"{entry.id}, start", entry, "start", index, ("start", entry.id))
        for index in range(len(entry.multiclass.grants)):
            owner = ("multiclass", entry.id)
            yield Place(f"class {entry.id}", f"{entry.id}, multiclass", entry.multiclass, "grants", index, owner)
    for named in content.every("feature"):
        assert isinstance(named.entry, Feature)
        assert named.owner is not None
        yield from _of(named.entry, named.owner)
    for kind in ("feat", "state", "condition"):
        for named in content.every(kind):
            assert isinstance(named.entry, Feature)
            yield from _of(named.entry, (kind, named.id))


def _of(feature: Feature, owner: tuple[str, str]) -> Iterator[Place]:
    kind, id_ = owner
    group = kind
    if kind == "class":
        group = f"class {id_}"
    elif kind == "subclass":
        subclass = catalog().subclass(id_)
        assert subclass is not None
        group = f"class {subclass.of}"
    for index in range(len(feature.grants)):
        yield Place(group, f"{id_}, {feature.id}", feature, "grants", index, owner, feature)


@contextmanager
def changed(place: Place, *grants: AnyGrant) -> Iterator[None]:
    """Let these grants stand instead of a place's own, none of them for no grant at all."""
    before: tuple[AnyGrant, ...] = getattr(place.holder, place.attribute)
    place.holder.__dict__[place.attribute] = (*before[: place.index], *grants, *before[place.index + 1 :])
    try:
        yield
    finally:
        place.holder.__dict__[place.attribute] = before


# -- the build that has it ------------------------------------------------------------------------------------------

SCORES: Final = {
    "good": "15 16 14 13 17 18",
    "low": "8 8 8 8 8 8",
    "top": "20 20 20 20 20 20",
    "beyond": "21 21 21 21 21 21",
}
GEAR: Final[dict[str, tuple[str | Pick, ...]]] = {
    "nothing": (),
    "two blades": ("leather-armor", "shortsword", pick("dagger", "off-hand")),
    "sword and board": ("chain-mail", "shield", "longsword"),
    "great blade": ("greatsword",),
    "bow": ("longbow", "20 arrow"),
    "plate": ("plate-armor",),
    "scale": ("scale-mail", "club"),
    "metal shield": ("shield", "mace"),
    "rapier": ("rapier",),
    "staff": ("quarterstaff",),
}


@dataclass
class Wanted:
    """What a build must have so that a place's grant holds."""

    classes: str = "wizard 1"
    subclasses: dict[str, str] = field(default_factory=dict)
    lines: dict[str, list[str | Item]] = field(default_factory=dict)
    species: tuple[str | Item, ...] = ()
    background: str | None = None
    gear: tuple[str | Pick, ...] = ()
    states: tuple[str, ...] = ()

    def at(self, key: str, *items: str | Item) -> None:
        """Add items to a line."""
        self.lines.setdefault(key, []).extend(items)

    def document(self, scores: str, gear: tuple[str | Pick, ...]) -> Build:
        """Return the build with these scores and with this gear beside what it must have."""
        found = build(
            self.classes,
            scores,
            species=self.species,
            gear=(*self.gear, *gear),
            lines=self.lines,
            subclasses=self.subclasses,
        )
        if self.background is not None:
            found = found.model_copy(update={"background": Origin(id=self.background)})
        return found


def wanted(place: Place) -> Wanted:
    """Return the least that a build must have for a place's grant."""
    grant, feature, (kind, id_) = place.grant, place.feature, place.owner
    level = max(grant.level or 1, feature.level if feature is not None else 1)
    if isinstance(grant, Choice) and grant.total is not None:
        level = max(level, 3)
    need = Wanted()
    match kind:
        case "start":
            need.classes = f"{id_} {level}"
        case "multiclass":
            need.classes = f"{'wizard' if id_ != 'wizard' else 'rogue'} 1, {id_} {level}"
        case "class":
            need.classes = f"{id_} {level}"
        case "subclass":
            _subclass(need, id_, level)
        case "species":
            need.classes, need.species = f"wizard {level}", (id_,)
        case "background":
            need.background = id_
        case "feat":
            need.at("wizard 1", gift("the harbour's thanks", f"feat {id_}"))
        case "choice-list":
            assert feature is not None
            _option(need, id_, feature, level)
        case "item":
            casters = getattr(grant, "lists", ()) or ("wizard",)
            need.classes, need.gear = f"{casters[0]} 5", (pick(id_, "attuned"),)
        case _:
            need.states = (id_,)
            _state(need, id_)
    _conditions(need, grant)
    return need


def _subclass(need: Wanted, id_: str, level: int) -> None:
    subclass = catalog().subclass(id_)
    assert subclass is not None
    assert subclass.of is not None
    content = catalog().class_(subclass.of)
    assert content is not None
    need.classes = f"{subclass.of} {max(level, content.subclass_level)}"
    need.subclasses[subclass.of] = id_


def _option(need: Wanted, list_id: str, option: Feature, level: int) -> None:
    """Pick an option where some feature opens its list; options of species stand in the species' parentheses."""
    (listed,) = [n.entry for n in catalog().every("choice-list") if n.id == list_id]
    assert isinstance(listed, ChoiceList)
    for named in catalog().every("feature"):
        assert isinstance(named.entry, Feature)
        assert named.owner is not None
        kind, id_ = named.owner
        for grant in named.entry.grants:
            if (
                grant.kind != "choice"
                or grant.keyword != listed.keyword
                or (grant.from_ and option.id not in grant.from_)
            ):
                continue
            first = max(grant.level or named.entry.level, option.level)
            if kind == "species":
                need.classes, need.species = f"wizard {level}", (id_, f"{listed.keyword} {option.id}")
                return
            if kind == "subclass":
                _subclass(need, id_, max(level, first))
            else:
                need.classes = f"{id_} {max(level, first)}"
            class_id = need.classes.split()[0]
            # A growing number of picks opens at several levels; an option with a level is picked at the last of them.
            at = max(n for n in _opening_levels(grant, class_id, first))
            need.classes = f"{class_id} {max(level, at)}"
            need.at(f"{class_id} {at}", f"{listed.keyword} {option.id}")
            return
    raise AssertionError(f"nothing opens {listed.keyword}")


def _opening_levels(grant: Choice, class_id: str, first: int) -> Iterator[int]:
    if grant.total is None:
        yield first
        return
    content = catalog().class_(class_id)
    assert content is not None
    (column,) = grant.total.calls("column")
    cells = [int(str(cell or 0)) for cell in content.tables[column]]
    for level in range(first, 21):
        if cells[level - 1] > (cells[level - 2] if level > 1 else 0):
            yield level
            return


def _state(need: Wanted, id_: str) -> None:
    state = catalog().state(id_)
    assert isinstance(state, State)
    if state.needs is None:
        return
    if catalog().spell(state.needs) is not None:
        need.at("wizard 1", gift("a lesson", f"spell {state.needs}"))
        return
    if catalog().item(state.needs) is not None:
        need.gear = (pick(state.needs, "attuned"),)
        return
    named = catalog().named("feature", state.needs)
    assert named is not None, f"the state {id_} needs {state.needs}, which nothing gives"
    assert named.owner is not None
    assert isinstance(named.entry, Feature)
    kind, owner = named.owner
    if kind == "subclass":
        _subclass(need, owner, named.entry.level)
    else:
        need.classes = f"{owner} {named.entry.level}"


def _conditions(need: Wanted, grant: AnyGrant) -> None:
    """Give what a condition asks for: a picked option, a spell, a skill to be proficient in."""
    class_id, top = need.classes.split(", ")[-1].split()
    if grant.kind == "lowest-d20" and "proficient" in grant.checks:
        need.at(f"{class_id} {top}", gift("a lesson", "skill stealth"))
    spells = set(getattr(grant, "spells", ())) if grant.kind == "spell-damage" else set[str]()
    if grant.when is not None:
        spells |= set(grant.when.calls("knows"))
        need.states += tuple(s for s in grant.when.calls("state") if s not in need.states)
        for id_ in grant.when.calls("has"):
            for word in catalog().keywords():
                if catalog().option(word, id_) is not None:
                    need.at(f"{class_id} 1", f"{word} {id_}")
                    break
            else:
                continue
            break
    for spell in sorted(spells):
        need.at(f"{class_id} {top}", gift("a lesson", f"spell {spell}"))


# -- what a build shows ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Shown:
    """What one look at a build shows. opened: places of choices; spells: with how they are had and until when."""

    numbers: dict[str, Number]
    notes: frozenset[tuple[str, str, str]]
    opened: frozenset[tuple[Any, ...]]
    spells: frozenset[tuple[Any, ...]]
    held: frozenset[tuple[str, str, str]]


def look(document: Build, states: tuple[str, ...], level: int) -> Shown:
    """Return what a build shows at a level (the choices at every level)."""
    found = gather(document, catalog(), states)
    sheet = at_level(Plan(found), level)
    held = {
        (granted.grant.of, id_, granted.source)
        for granted in found.grants
        if granted.grant.kind == "proficiency" and granted.since <= level <= granted.until
        for id_ in granted.grant.ids
    }
    return Shown(
        {**sheet.numbers, **exertion(found, level)},
        frozenset((note.label, note.text, note.source) for note in sheet.notes),
        frozenset(
            (o.choice.keyword, o.level, o.count, o.label, o.source, o.place, o.choice.least) for o in found.opened
        ),
        frozenset((s.spell, s.how, s.since, s.source) for s in found.spells),
        frozenset(held),
    )


def source_of(document: Build, states: tuple[str, ...], grant: AnyGrant) -> tuple[str, int, int] | None:
    """Return source and levels of a grant in a build; None if the build does not have it."""
    found = gather(document, catalog(), states)
    for opened in found.opened:
        if opened.choice is grant:
            return opened.source, opened.level, document.top
    for granted in found.grants:
        if granted.grant is grant:
            return granted.source, granted.since, min(granted.until, document.top)
    return None


def differing(before: Shown, after: Shown, source: str) -> set[str]:
    """Return in which ways two looks differ through a source: `number`, `note`, `choice`, `spell`, `proficiency`.

    A number counts where it changes and one of its reasons (or beaten alternatives), before or after, has the source.
    """
    ways = set()
    for name in before.numbers.keys() | after.numbers.keys():
        one, two = before.numbers.get(name), after.numbers.get(name)
        if one != two and any(source in _sources(number) for number in (one, two)):
            ways.add("number")
    if any(note[2] == source for note in before.notes ^ after.notes):
        ways.add("note")
    if before.notes != after.notes:
        ways.add("any note")
    if any(row[4] == source for row in before.opened ^ after.opened):
        ways.add("choice")
    if any(row[3] == source for row in before.spells ^ after.spells):
        ways.add("spell")
    if any(row[2] == source for row in before.held ^ after.held):
        ways.add("proficiency")
    return ways


def judged(document: Build, grant: AnyGrant) -> tuple[Any, ...]:
    """Return what audit and goals say of a build: goals to be proficient in what the grant names, and its rulings."""
    ids = grant.ids if grant.kind == "proficiency" else ()
    wishes = tuple(Goal(form="proficient", name=id_) for id_ in ids)
    met = [result.met for result in goals(document.model_copy(update={"goals": wishes}), catalog())]
    rulings = [f.message for f in audit(document, catalog()) if f.severity == "needs-ruling"]
    return (*met, *rulings)


def _sources(number: Number | None) -> set[str]:
    return {reason.source for reason in (*number.reasons, *number.beaten)} if number is not None else set()


# -- mutations ------------------------------------------------------------------------------------------------------

# Fields that are amounts, by kind where the name alone does not tell.
AMOUNTS: Final = (
    "amount", "uses", "number", "feet", "base", "total", "count", "at_least", "at_most", "from_", "dice", "die",
    "plus", "score", "least", "hours", "times", "cantrips", "known", "prepared", "book", "items", "number",
)  # fmt: skip
NO_AMOUNTS: Final = {
    ("choice", "amount"), ("choice", "least"), ("choice", "from_"), ("choice", "of"),
    ("hit-points", "times"), ("choice", "cap"),
}  # fmt: skip


def one_more(grant: AnyGrant) -> Iterator[tuple[str, AnyGrant]]:
    """Yield a grant with each of its amounts raised by one (dice by one die), with the name of the field."""
    fields = dict.fromkeys((*AMOUNTS, *(("cap",) if grant.kind == "ability-cap" else ())))
    for name in fields:
        value = getattr(grant, name, None)
        if value is None or (grant.kind, name) in NO_AMOUNTS:
            continue
        dice = name == "die" or (name == "dice" and grant.kind != "extra-critical-dice")
        yield name, grant.model_copy(update={name: _raised(value, dice)})


def _raised(value: Any, dice: bool) -> Any:
    if isinstance(value, int):
        return value + 1
    if not isinstance(value, Formula):
        raise AssertionError(f"no amount: {value!r}")
    constant = value.constant
    if isinstance(constant, str):
        if constant == "unlimited":
            return Formula.parse(1)
        number, _, sides = constant.partition("d")
        return Formula.parse(f"{int(number) + 1}d{sides}")
    if value.text == "unlimited":
        return Formula.parse(1)
    if dice:
        return Formula.parse("3d20")
    return Formula.parse(f"({value.text}) + 1")
