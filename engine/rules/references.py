"""What a folio refers to: every id it names must be given somewhere, nothing may lead back to itself.

The checks look at a folio beside its rules release and other folios. Each problem comes with the file and line of the
word at fault and the nearest ids there are.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from engine.rules.catalog import Catalog
from engine.rules.content import (
    Background,
    ChoiceList,
    ClassContent,
    Creature,
    Entry,
    Feature,
    Item,
    Option,
    Species,
    Spell,
    State,
    Subclass,
)
from engine.rules.content.entry import Featured
from engine.rules.folio import KINDS, Folio
from engine.rules.formula import Formula, FormulaError, Tree
from engine.rules.formula_kinds import COUNTED, TRUTH, Kinds, check_kind, kind_of_cell, takes
from engine.rules.grants import AnyGrant
from engine.rules.grants.attacks import ExtraDamage, NaturalWeapon, SpellDamage
from engine.rules.grants.body import Defense
from engine.rules.grants.casting import CastingBonus, ExtraSpells, Spellcasting
from engine.rules.grants.choices import Choice
from engine.rules.grants.pools import Pool
from engine.rules.grants.proficiencies import Expertise, HalfProficiency, Proficiency
from engine.rules.grants.rolls import Advantage, CheckBonus, ExtraDie, LowestD20, LowestTotal, PassiveBonus, SaveBonus
from engine.rules.limits import (
    MAX_BASES,
    MAX_COUNTED,
    MAX_FEATURES,
    MAX_GRANTS,
    MAX_LISTED,
    MAX_OFFERED,
    MAX_OPENED,
    MAX_OPTIONS,
    MAX_PROBLEMS,
)
from engine.rules.names import fold, nearest
from engine.rules.words import ABILITIES, PICK_KEYWORDS, RESERVED_KEYWORDS

Path = tuple[int | str, ...]
# How a kind is called in a sentence where its own word would puzzle.
_CALLED: Final = {"choice-list": "choice list", "damage-type": "damage type", "creature-type": "creature type"}
_SPELLS: Final = frozenset({"cantrip", "spell", "secret"})


@dataclass(frozen=True, slots=True)
class Fault:
    """One reference that leads nowhere. kind, id: of the entry it stands in (`header` for the folio's own header)."""

    kind: str
    id: str
    path: Path
    sentence: str


def grants_in(entry: Entry) -> Iterator[tuple[Path, AnyGrant]]:
    """Yield every grant of an entry with the path to it; those of subclasses and subspecies belong to these."""
    if isinstance(entry, ClassContent):
        yield from _listed(("start",), entry.start)
        yield from _listed(("multiclass", "grants"), entry.multiclass.grants)
    if isinstance(entry, Featured):
        for i, feature in enumerate(entry.features):
            yield from _listed(("features", i, "grants"), feature.grants)
    if isinstance(entry, ChoiceList):
        for i, option in enumerate(entry.options):
            yield from _listed(("options", i, "grants"), option.grants)
    if isinstance(entry, Feature):
        yield from _listed(("grants",), entry.grants)


def _listed(path: Path, grants: Iterable[AnyGrant]) -> Iterator[tuple[Path, AnyGrant]]:
    return (((*path, i), grant) for i, grant in enumerate(grants))


def too_much(folio: Folio) -> list[Fault]:
    """Return where a folio goes beyond what one entry may hold; such a folio is not looked at further."""
    faults: list[Fault] = []
    bases = offered = 0
    for kind, entry in folio.all():
        if isinstance(entry, Featured) and len(entry.features) > MAX_FEATURES:
            sentence = f"`{entry.id}` has {len(entry.features)} features; one entry may have {MAX_FEATURES}"
            faults.append(Fault(kind, entry.id, ("features", MAX_FEATURES), sentence))
        if isinstance(entry, ChoiceList):
            offered += sum(1 for option in entry.options if option.offered_to)
            if len(entry.options) > MAX_OPTIONS:
                sentence = f"`{entry.id}` has {len(entry.options)} options; one list may have {MAX_OPTIONS}"
                faults.append(Fault(kind, entry.id, ("options", MAX_OPTIONS), sentence))
            if offered > MAX_OFFERED:
                sentence = f"more than {MAX_OFFERED} options of this folio are `offered_to` others; offer fewer"
                faults.append(Fault(kind, entry.id, ("options",), sentence))
                break
        grants = list(grants_in(entry))
        if len(grants) > MAX_GRANTS:
            sentence = f"`{entry.id}` has {len(grants)} grants; one entry may have {MAX_GRANTS}"
            faults.append(Fault(kind, entry.id, grants[MAX_GRANTS][0], sentence))
        for path, grant in grants:
            for name, value in grant.__dict__.items():
                if isinstance(value, tuple) and len(value) > MAX_LISTED:
                    key = name.rstrip("_")
                    sentence = f"`{key}` lists {len(value)} things; a list in a grant may have {MAX_LISTED}"
                    faults.append(Fault(kind, entry.id, (*path, key), sentence))
        if isinstance(entry, Item) and entry.magic is not None:
            bases += len(entry.magic.base)
            if bases > MAX_BASES:
                sentence = f"the enchantments of this folio make more than {MAX_BASES} items; name fewer bases"
                faults.append(Fault(kind, entry.id, ("magic", "base"), sentence))
                break
    return faults


def references(folio: Folio, catalog: Catalog) -> list[Fault]:
    """Return every reference of a folio that leads nowhere, or to itself. catalog: with this folio and those beside."""
    return _Check(folio, catalog).run()


class _Check:
    """One look through a folio."""

    def __init__(self, folio: Folio, catalog: Catalog) -> None:
        self.folio = folio
        self.catalog = catalog
        self.faults: list[Fault] = []
        self.kind = self.id = ""
        self._known: dict[str, frozenset[str]] = {}
        self._pools: frozenset[str] | None = None
        self._all_columns: dict[str, Kinds] | None = None
        self._all_keywords: list[str] | None = None
        self._ids: dict[tuple[str, str], frozenset[str]] = {}

    def run(self) -> list[Fault]:
        """Look at the header, at every entry, and for circles."""
        self._header()
        for kind, entry in self.folio.all():
            self.kind, self.id = kind, entry.id
            self._entry(entry)
            for path, grant in grants_in(entry):
                self._grant(entry, path, grant)
        self._circles()
        return self.faults

    # -- telling ------------------------------------------------------------------------------------------------

    def wrong(self, path: Path, sentence: str) -> None:
        """Note a fault at a path of the entry at hand."""
        self.faults.append(Fault(self.kind, self.id, path, sentence))

    def _hint(self, word: str, offered: Callable[[], Iterable[str]]) -> str:
        """Return the names nearest to a word as the end of a sentence; nothing once nobody is told the sentence."""
        if len(self.faults) >= MAX_PROBLEMS:
            return ""
        near = nearest(word, sorted(offered()))
        return f"; nearest: {', '.join(near)}" if near else ""

    def known(self, kind: str) -> frozenset[str]:
        """Return every id of a kind that some folio at hand gives."""
        found = self._known.get(kind)
        if found is None:
            if kind == "ability":
                found = frozenset(ABILITIES)
            elif kind == "item-group":
                items = (n.entry for n in self.catalog.every("item"))
                found = frozenset(group for item in items if isinstance(item, Item) for group in item.groups)
            elif kind == "language-group":
                found = frozenset(
                    g for f in self.catalog.folios if f.release for w in f.release.languages for g in w.groups
                )
            else:
                ids = [n.id for n in self.catalog.every(kind)]
                found = frozenset([*ids, *(f"{n.folio}/{n.id}" for n in self.catalog.every(kind))])
                if kind == "feature":
                    found |= {f"{n.owner[1]}/{n.id}" for n in self.catalog.every(kind) if n.owner is not None}
            self._known[kind] = found
        return found

    def want(self, path: Path, id_: str, *kinds: str, called: str | None = None, also: Iterable[str] = ()) -> bool:
        """Note a fault if no kind gives an id. called: what it should have been, in a sentence.

        Once there are more faults than are told and counted, nothing is looked up any more.
        """
        if len(self.faults) > MAX_PROBLEMS + MAX_COUNTED:
            return True
        if id_ in also or any(id_ in self.known(kind) for kind in kinds):
            return True
        hint = self._hint(id_, lambda: {*also, *(i for kind in kinds for i in self.known(kind) if "/" not in i)})
        name = called or " or ".join(_CALLED.get(kind, kind.removeprefix("option:")) for kind in kinds)
        self.wrong(path, f"no folio at hand gives the {name} `{id_}`{hint}")
        return False

    def want_all(
        self, path: Path, ids: Iterable[str], *kinds: str, called: str | None = None, also: Iterable[str] = ()
    ) -> None:
        """Look each id of a list up."""
        for i, id_ in enumerate(ids):
            self.want((*path, i), id_, *kinds, called=called, also=also)

    # -- header -------------------------------------------------------------------------------------------------

    def _header(self) -> None:
        self.kind, self.id = "header", self.folio.id
        header = self.folio.header
        for class_id, spells in header.lists.items():
            self.want(("lists", class_id), class_id, "class")
            self.want_all(("lists", class_id), spells, "spell")
        for field, ids in (("bars", header.bars), ("replaces", header.replaces)):
            for i, text in enumerate(ids):
                self._hidden((field, i), text, own=field == "replaces")

    def _hidden(self, path: Path, text: str, *, own: bool) -> None:
        kind, _, id_ = text.rpartition(" ")
        kinds = self._hideable() if not kind else [k for k in self._hideable() if k.rpartition(":")[2] == kind]
        if kind and not kinds:
            hint = self._hint(kind, lambda: {k.rpartition(":")[2] for k in self._hideable()})
            self.wrong(path, f"`{kind}` is no kind of content{hint}")
            return
        found = [k for k in kinds if any(self._gives(f, k, id_) for f in self.catalog.folios if f is not self.folio)]
        if not found:
            others = [f for f in self.catalog.folios if f is not self.folio]
            hint = self._hint(id_, lambda: {e for f in others for k in kinds for e in self._of_folio(f, k)})
            self.wrong(path, f"no other folio at hand gives `{id_}`, so there is nothing to put aside{hint}")
        elif len(found) > 1:
            words = ", ".join(f"`{k.rpartition(':')[2]} {id_}`" for k in found)
            self.wrong(path, f"`{id_}` is the name of several things; say which: {words}")
        elif own and not self._gives(self.folio, found[0], id_):
            self.wrong(path, f"this folio gives nothing called `{id_}` to take the place of the other; use `bars`")

    def _hideable(self) -> list[str]:
        return [*KINDS.values(), *(f"option:{keyword}" for keyword in self._keywords())]

    def _keywords(self) -> list[str]:
        if self._all_keywords is None:
            self._all_keywords = self._every_keyword()
        return self._all_keywords

    def _every_keyword(self) -> list[str]:
        lists = (entry for f in self.catalog.folios for entry in f.entries.get("choice-list", {}).values())
        return list(dict.fromkeys(entry.keyword for entry in lists if isinstance(entry, ChoiceList)))

    def _gives(self, folio: Folio, kind: str, id_: str) -> bool:
        return id_ in self._of_folio(folio, kind)

    def _of_folio(self, folio: Folio, kind: str) -> frozenset[str]:
        key = (folio.id, kind)
        if key not in self._ids:
            self._ids[key] = _ids(folio, kind)
        return self._ids[key]

    # -- entries ------------------------------------------------------------------------------------------------

    def _entry(self, entry: Entry) -> None:
        match entry:
            case Subclass():
                self._owned(entry.of, "class")
            case Species():
                if entry.of is not None:
                    self._parent(entry)
            case ChoiceList():
                self._choice_list(entry)
            case Spell():
                self.want_all(("classes",), entry.classes, "class")
                for i, part in enumerate(entry.damage):
                    types = [*([part.type] if part.type else []), *part.types]
                    self.want_all(("damage", i), types, "damage-type")
                if entry.ends is not None:
                    self.want_all(("ends", "immune"), entry.ends.immune, "condition")
            case Item():
                self._item(entry)
            case Creature():
                self._creature(entry)
            case State():
                if entry.needs is not None:
                    self.want(("needs",), entry.needs, "feature", "spell", "item", "feat", called="feature or spell")
            case _:
                pass
        if isinstance(entry, ClassContent | Background):
            for i, line in enumerate(entry.starting_gear):
                for j, option in enumerate(line.options):
                    self._things(("starting_gear", i, "options", j), option)
        if isinstance(entry, Featured):
            self._features(entry)
        if isinstance(entry, Option):
            self._condition(entry, ("requires",), entry.requires)
            self.want_all(("offered_to",), entry.offered_to, "class")

    def _owned(self, of: str | None, kind: str) -> None:
        if of is None:
            self.wrong((), f"`{self.id}` does not say of which {kind} it is; add `of:` with its id")
        else:
            self.want(("of",), of, kind)

    def _parent(self, entry: Species) -> None:
        assert entry.of is not None
        if entry.of.rpartition("/")[2] == entry.id:
            self.wrong(("of",), f"`{entry.id}` is a kind of itself; `of` names the species it belongs to")
        elif self.want(("of",), entry.of, "species"):
            parent = self.catalog.species(entry.of)
            if parent is not None and parent.of is not None:
                self.wrong(
                    ("of",), f"`{entry.of}` is itself a kind of `{parent.of}`; a subspecies belongs to a whole species"
                )

    def _choice_list(self, entry: ChoiceList) -> None:
        if fold(entry.keyword) in {fold(word) for word in RESERVED_KEYWORDS}:
            self.wrong(("keyword",), f"`{entry.keyword}` is a word that outlines use already; choose another keyword")
        seen: set[str] = set()
        for i, option in enumerate(entry.options):
            if option.id in seen:
                self.wrong(("options", i, "id"), f"the option `{option.id}` stands in this list twice")
            seen.add(option.id)
            self._condition(entry, ("options", i, "requires"), option.requires)
            self.want_all(("options", i, "offered_to"), option.offered_to, "class")

    def _features(self, entry: Featured) -> None:
        theirs = {feature.id for feature in entry.features}
        if isinstance(entry, Subclass) and entry.of is not None:
            owner = self.catalog.class_(entry.of)
            theirs |= {feature.id for feature in owner.features} if owner is not None else set()
        seen: set[str] = set()
        for i, feature in enumerate(entry.features):
            if feature.id in seen:
                self.wrong(("features", i, "id"), f"the feature `{feature.id}` stands in `{entry.id}` twice")
            seen.add(feature.id)
            replaced = feature.replaces
            if replaced == feature.id:
                self.wrong(("features", i, "replaces"), f"`{feature.id}` cannot take its own place")
            elif replaced is not None and replaced not in theirs:
                hint = self._hint(replaced, lambda: theirs)
                self.wrong(("features", i, "replaces"), f"`{entry.id}` has no feature `{replaced}`{hint}")

    def _item(self, entry: Item) -> None:
        self._things(("contents",), entry.contents)
        if entry.weapon is not None and entry.weapon.damage is not None:
            self.want(("weapon", "damage"), entry.weapon.damage, "damage-type")
        for i, base in enumerate(entry.magic.base if entry.magic is not None else ()):
            path: Path = ("magic", "base", i)
            if base == entry.id:
                self.wrong(path, f"`{entry.id}` cannot be an enchantment of itself")
            elif self.want(path, base, "item"):
                found = self.catalog.item(base)
                if found is not None and found.magic is not None and found.magic.base:
                    self.wrong(path, f"`{base}` is an enchantment itself; name the plain item")

    def _things(self, path: Path, texts: Iterable[str]) -> None:
        for i, text in enumerate(texts):
            count, _, id_ = text.rpartition(" ")
            if count and not count.isdecimal():
                self.wrong((*path, i), f"`{text}` is no id of an item, nor a count and an id such as `20 arrow`")
            elif not id_.startswith("any-"):
                self.want((*path, i), id_, "item")
            else:
                groups = self._groups()
                if id_.removeprefix("any-") not in groups:
                    hint = self._hint(id_, lambda: {f"any-{g}" for g in self._groups()})
                    self.wrong((*path, i), f"`{id_}` names no group of items{hint}")

    def _groups(self) -> set[str]:
        kinds = [f"{group}{reach}-weapon" for group in ("simple", "martial") for reach in ("", "-melee", "-ranged")]
        return {*kinds, *self.known("item-group")}

    def _creature(self, entry: Creature) -> None:
        self.want(("type",), entry.type, "creature-type")
        for skill in entry.skills:
            self.want(("skills", skill), skill, "skill")
        self.want_all(("condition_immunities",), entry.condition_immunities, "condition")
        if entry.form_of is not None:
            self.want(("form_of",), entry.form_of, "creature")

    # -- grants -------------------------------------------------------------------------------------------------

    def _grant(self, entry: Entry, path: Path, grant: AnyGrant) -> None:
        for name, value in grant.__dict__.items():
            if isinstance(value, Formula):
                self._formula(entry, (*path, name), value, takes(grant.kind, name))
        checks = {"all", *ABILITIES}
        match grant:
            case Proficiency():
                self._proficiency(path, grant)
            case Expertise():
                self.want_all((*path, "ids"), grant.ids, "skill", "tool")
            case HalfProficiency() | LowestTotal():
                self.want_all((*path, "checks"), grant.checks, "skill", "tool", also=checks)
            case LowestD20():
                self.want_all((*path, "checks"), grant.checks, "skill", "tool", also={*checks, "proficient"})
                self.want_all((*path, "saves"), grant.saves, called="save", also=checks)
            case CheckBonus():
                self.want_all((*path, "checks"), grant.checks, "skill", "tool", also={*checks, "initiative"})
            case PassiveBonus():
                self.want_all((*path, "skills"), grant.skills, "skill")
            case SaveBonus():
                self.want_all((*path, "saves"), grant.saves, called="save", also=checks)
            case Advantage() | ExtraDie():
                self.want_all((*path, "of"), grant.of, "skill", "tool", also={*checks, "initiative"})
                if isinstance(grant, ExtraDie):
                    self._pool(path, grant.pool)
            case ExtraDamage():
                self._pool(path, grant.pool, also=("slots",))
                self._damage(path, grant.damage)
            case NaturalWeapon():
                self._damage(path, grant.damage)
            case SpellDamage():
                self.want_all((*path, "spells"), grant.spells, "spell")
                self.want_all((*path, "lists"), grant.lists, "class")
                self.want_all((*path, "damage"), grant.damage, "damage-type")
            case Defense():
                kind = "condition" if grant.defense == "condition-immunity" else "damage-type"
                self.want_all((*path, "to"), grant.to, kind, also=("all",))
            case CastingBonus():
                self.want_all((*path, "lists"), grant.lists, "class")
            case ExtraSpells():
                for i, at in enumerate(grant.spells):
                    self.want((*path, "spells", i, "id"), at.id, "spell")
                    if at.uses is not None:
                        self._formula(entry, (*path, "spells", i, "uses"), at.uses, COUNTED)
            case Spellcasting():
                self._spellcasting(entry, path, grant)
            case Choice():
                self._choice(path, grant)
            case _:
                pass

    def _damage(self, path: Path, damage: str | None) -> None:
        if damage is not None:
            self.want((*path, "damage"), damage, "damage-type")

    def _pool(self, path: Path, pool: str | None, also: Iterable[str] = ()) -> None:
        if pool is None:
            return
        if self._pools is None:
            entries = (entry for folio in self.catalog.folios for _, entry in folio.all())
            self._pools = frozenset(g.id for e in entries for _, g in grants_in(e) if isinstance(g, Pool))
        self.want((*path, "pool"), pool, called="pool", also={*self._pools, *also})

    def _proficiency(self, path: Path, grant: Proficiency) -> None:
        path = (*path, "ids")
        match grant.of:
            case "save":
                self.want_all(path, grant.ids, "ability", called="saving throw")
            case "weapon":
                self.want_all(path, grant.ids, "item", called="weapon", also=("simple", "martial"))
            case "armor":
                self.want_all(path, grant.ids, "item", called="armor", also=("light", "medium", "heavy", "shield"))
            case of:
                self.want_all(path, grant.ids, of)

    def _spellcasting(self, entry: Entry, path: Path, grant: Spellcasting) -> None:
        self.want((*path, "list"), grant.list, "class", called="class (whose spell list it is)")
        needed = {"pact": ("pact_slots", "pact_level"), "none": ()}.get(grant.progression, ("slots_1",))
        columns = self._columns(entry)
        for column in needed if columns is not None else ():
            if columns is not None and column not in columns:
                self.wrong(path, f"a class that casts spells needs the column `{column}` in its `tables`")

    def _choice(self, path: Path, grant: Choice) -> None:
        keyword = grant.keyword
        lists = self._keywords()
        if grant.count is not None and grant.total is not None:
            self.wrong((*path, "total"), "a choice has either `count` or `total`, not both")
        if grant.list is not None:
            self.want((*path, "list"), grant.list, "class", called="class (whose spell list it is)")
        for i, (_, own) in enumerate(grant.stands_for):
            self.want((*path, "stands_for", i), own, f"option:{keyword}")
        kinds: tuple[str, ...]
        if grant.of == "spell" or keyword in _SPELLS:
            kinds = ("spell",)
            if grant.of == "spell" and keyword in RESERVED_KEYWORDS and keyword not in _SPELLS:
                self.wrong((*path, "keyword"), f"`{keyword}` is a word that outlines use already; choose another")
        elif keyword in lists:
            kinds = (f"option:{keyword}",)
        elif keyword in PICK_KEYWORDS:
            kinds = PICK_KEYWORDS[keyword]
        else:
            hint = self._hint(keyword, lambda: {*lists, *PICK_KEYWORDS})
            self.wrong(
                (*path, "keyword"),
                f"`{keyword}` is the keyword of no choice list; give a list in `choices` with it{hint}",
            )
            return
        self.want_all((*path, "from"), grant.from_, *kinds)
        self.want_all((*path, "but"), grant.but, *kinds)

    # -- formulas -----------------------------------------------------------------------------------------------

    def _condition(self, entry: Entry, path: Path, formula: Formula | None) -> None:
        if formula is not None:
            self._formula(entry, path, formula, TRUTH)

    def _formula(self, entry: Entry, path: Path, formula: Formula, wanted: Kinds) -> None:
        columns = self._columns(entry)
        try:
            check_kind(formula, wanted, (columns or {}).get)
        except FormulaError as error:
            self.wrong(path, str(error))
            return
        for name in formula.calls("column"):
            if columns is None:
                self.wrong(path, f"`{formula.text}` reads a column, but only classes and subclasses have a table")
            elif name not in columns:
                hint = self._hint(name, lambda: set(columns or ()))
                self.wrong(path, f"`{formula.text}` reads the column `{name}`, which no table here has{hint}")
        for function, kinds in _CALLED_IDS.items():
            for id_ in formula.calls(function):
                self.want(path, id_, *kinds(self), called=_FUNCTION_NAMES[function])
        for word in _level_words(formula.tree):
            class_id = word.removesuffix("_level").replace("_", "-")
            self.want(path, class_id, "class")

    def _columns(self, entry: Entry) -> Mapping[str, Kinds] | None:
        """Return what the columns hold that formulas of an entry can read; None if it can read none."""
        if isinstance(entry, ClassContent | Subclass):
            owners: list[Any] = [entry]
            if isinstance(entry, Subclass) and entry.of is not None:
                owners.append(self.catalog.class_(entry.of))
            return _columns_of(owner for owner in owners if owner is not None)
        if isinstance(entry, ChoiceList | State):
            if self._all_columns is None:
                named = [*self.catalog.every("class"), *self.catalog.every("subclass")]
                self._all_columns = _columns_of(n.entry for n in named)
            return self._all_columns
        return None

    # -- circles ------------------------------------------------------------------------------------------------

    def _circles(self) -> None:
        """Options and feats that, through the choices they open, can be picked inside themselves without end."""
        opened: dict[tuple[str, str], list[tuple[Path, Choice]]] = {}
        mine: list[tuple[str, str, tuple[str, str]]] = []
        for folio in self.catalog.folios:
            for keyword, id_, place, choices in _openers(folio):
                if choices:
                    opened.setdefault((keyword, id_), []).extend(choices)
                    if folio is self.folio:
                        mine.append((keyword, id_, place))
        openers: dict[str, list[str]] = {}
        for keyword, id_ in opened:
            openers.setdefault(keyword, []).append(id_)
        steps = 0

        def onward(node: _Node) -> list[_Node]:
            nonlocal steps
            keyword, id_, but = node
            if id_ is None:  # everything under a keyword that opens something itself
                found: list[_Node] = [(keyword, other, _NONE) for other in openers.get(keyword, ()) if other not in but]
            else:
                found = [n for _, choice in opened.get((keyword, id_), ()) for n in _offered(choice, opened)]
            steps += len(found)
            return found if steps <= MAX_OPENED else []

        group = _grouped([(keyword, id_, _NONE) for keyword, id_, _ in mine], onward)
        if steps > MAX_OPENED:
            self.kind, self.id = "header", self.folio.id
            self.wrong((), f"options and feats open each other in more than {MAX_OPENED:,} ways; let fewer open others")
            return
        for keyword, id_, place in mine:
            own = group[(keyword, id_, _NONE)]
            for path, choice in opened[(keyword, id_)]:
                if any(group.get(node) == own for node in _offered(choice, opened)):
                    self.kind, self.id = place
                    self.wrong(
                        path, f"`{id_}` opens a choice of `{choice.keyword}` that can be answered with `{id_}` again"
                    )
                    break


# What can be picked: keyword, id (None: whatever there is under the keyword), and what is left out of that.
_Node = tuple[str, str | None, frozenset[str]]
_NONE: Final[frozenset[str]] = frozenset()


def _offered(choice: Choice, opened: Mapping[tuple[str, str], Any]) -> list[_Node]:
    """Return what a choice can be answered with, as far as that opens something itself."""
    if not choice.from_:
        return [(choice.keyword, None, frozenset(choice.but))]
    return [
        (choice.keyword, other, _NONE)
        for other in choice.from_
        if other not in choice.but and (choice.keyword, other) in opened
    ]


def _grouped(starts: Iterable[_Node], onward: Callable[[_Node], list[_Node]]) -> dict[_Node, int]:
    """Return for every node that can be reached a number that two share if each can be reached from the other.

    Each node is looked at once (strongly connected components after Tarjan), without recursion.
    """
    order: dict[_Node, int] = {}
    lowest: dict[_Node, int] = {}
    group: dict[_Node, int] = {}
    trail: list[_Node] = []
    for start in starts:
        if start in order:
            continue
        walk: list[tuple[_Node, Iterator[_Node]]] = []
        into: _Node | None = start
        while into is not None or walk:
            if into is not None:
                order[into] = lowest[into] = len(order)
                trail.append(into)
                walk.append((into, iter(onward(into))))
            node, left = walk[-1]
            into = None
            for other in left:
                if other not in order:
                    into = other
                    break
                if other not in group:
                    lowest[node] = min(lowest[node], order[other])
            if into is not None:
                continue
            walk.pop()
            if walk:
                above = walk[-1][0]
                lowest[above] = min(lowest[above], lowest[node])
            if lowest[node] == order[node]:
                while True:
                    done = trail.pop()
                    group[done] = order[node]
                    if done == node:
                        break
    return group


def _openers(folio: Folio) -> Iterator[tuple[str, str, tuple[str, str], list[tuple[Path, Choice]]]]:
    """Yield keyword, id, entry (kind, id) and opened choices of every option and feat."""
    for kind, entry in folio.all():
        if isinstance(entry, ChoiceList):
            for i, option in enumerate(entry.options):
                yield entry.keyword, option.id, (kind, entry.id), _choices(("options", i, "grants"), option)
        elif kind == "feat" and isinstance(entry, Feature):
            yield "feat", entry.id, (kind, entry.id), _choices(("grants",), entry)


def _choices(path: Path, feature: Feature) -> list[tuple[Path, Choice]]:
    return [((*path, i), grant) for i, grant in enumerate(feature.grants) if isinstance(grant, Choice)]


def _ids(folio: Folio, kind: str) -> frozenset[str]:
    if kind.startswith("option:"):
        lists = folio.entries.get("choice-list", {}).values()
        return frozenset(
            option.id
            for entry in lists
            if isinstance(entry, ChoiceList) and entry.keyword == kind.removeprefix("option:")
            for option in entry.options
        )
    return frozenset(folio.entries.get(kind, {}))


def _columns_of(owners: Iterable[Any]) -> dict[str, Kinds]:
    found: dict[str, Kinds] = {}
    for owner in owners:
        for name, cells in owner.tables.items():
            found[name] = found.get(name, frozenset()) | {kind_of_cell(cell) for cell in cells}
    return found


def _level_words(tree: Tree) -> Iterator[str]:
    if tree[0] == "word":
        word = str(tree[1])
        if word.endswith("_level") and word not in ("class_level", "character_level"):
            yield word
        return
    for part in tree[1:]:
        if isinstance(part, tuple):
            for inner in part if tree[0] == "call" else (part,):
                if isinstance(inner, tuple):
                    yield from _level_words(inner)


def _havable(check: _Check) -> tuple[str, ...]:
    options = (f"option:{keyword}" for keyword in check._keywords())
    return ("feature", "feat", "class", "subclass", "species", "background", "item", *options)


# Function of formulas -> the kinds that the id in it may name, and what it is called in a sentence.
_CALLED_IDS: Final[dict[str, Any]] = {
    "level_of": lambda check: ("class",),
    "state": lambda check: ("state", "condition"),
    "has": _havable,
    "knows": lambda check: ("spell",),
    "wields": lambda check: ("item",),
}
_FUNCTION_NAMES: Final = {
    "level_of": "class",
    "state": "state",
    "has": "feature or option",
    "knows": "spell",
    "wields": "item",
}
