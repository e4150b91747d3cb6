"""What there is to say of one thing of the rules: its facts as short lines, and where it stands."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from engine.publish.facts.formulas import Speaker
from engine.publish.facts.grants import grant_words
from engine.publish.facts.stats import creature_facts, item_facts, spell_facts
from engine.publish.facts.tables import class_tables
from engine.rules.catalog import Catalog, Named
from engine.rules.content import ChoiceList, ClassContent, Feature, Option, Species, State, Subclass
from engine.rules.content.entry import Featured
from engine.rules.grants import AnyGrant
from engine.rules.words import ABILITY_NAMES


@dataclass(frozen=True, slots=True)
class Section:
    """Lines that belong together. heading: empty for the first. tables: monospaced, at most 35 characters wide."""

    heading: str
    lines: tuple[str, ...]
    tables: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Facts:
    """One thing of the rules in words.

    kind: what it is, in one or two words. first: the most telling facts in one line. source: where it stands, from
    the outside in (`SRD 5.1, Classes, Rogue, Reliable Talent`). All text is plain; nothing in it is markup.
    """

    name: str
    kind: str
    first: str
    sections: tuple[Section, ...]
    source: str


def facts_of(named: Named, catalog: Catalog) -> Facts:
    """Return everything that the folio says of one thing, in words. named: from this catalogue."""
    kind = named.kind.partition(":")[0]
    first, sections = _TELLERS[kind](named, catalog)
    summary = named.entry.summary if named.entry is not None else None
    if summary:
        sections = [Section("", (summary,)), *sections]
    return Facts(
        name=named.name,
        kind=_kind_words(named, catalog),
        first=first,
        sections=tuple(s for s in sections if s.lines or s.tables),
        source=source_of(named, catalog),
    )


def source_of(named: Named, catalog: Catalog) -> str:
    """Return where a thing stands; a feature or option stands with what gives it."""
    if named.owner is not None:
        return catalog.source(*named.owner, named.name)
    if named.kind.startswith("option:"):
        found = catalog.choice_list(named.kind.partition(":")[2])
        return catalog.source("choice-list", found.id, named.name) if found is not None else named.name
    return catalog.source(named.kind, f"{named.folio}/{named.id}")


def owner_name(named: Named, catalog: Catalog) -> str:
    """Return the printed name of what gives a feature or lists an option; empty for anything else."""
    if named.owner is not None:
        return catalog.name_of(*named.owner)
    if named.kind.startswith("option:"):
        found = catalog.choice_list(named.kind.partition(":")[2])
        return (found.title or found.name) if found is not None else ""
    return ""


def _kind_words(named: Named, catalog: Catalog) -> str:
    if named.kind.startswith("option:"):
        return "option"
    return catalog.release.species_word.lower() if named.kind == "species" else named.kind


# -- features and what has them -----------------------------------------------------------------------------------


def _grants(grants: Iterable[AnyGrant], speaker: Speaker) -> tuple[str, ...]:
    return tuple(grant_words(grant, speaker) for grant in grants)


def _gives(feature: Feature, speaker: Speaker) -> Section:
    lines = _grants(feature.grants, speaker)
    if feature.no_number:
        lines = (*lines, f"no number: {feature.no_number}")
    return Section("Gives", lines)


def _feature(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    feature = named.entry
    assert isinstance(feature, Feature)
    assert named.owner is not None
    speaker = Speaker(catalog, named.owner)
    word = "level" if named.owner[0] == "class" else speaker.level_word()
    first = f"{catalog.name_of(*named.owner)}, {word} {feature.level}"
    more = []
    if feature.replaces:
        replaced = catalog.name_of("feature", f"{named.owner[1]}/{feature.replaces}")
        more.append(Section("", (f"takes the place of {replaced}",)))
    return first, [*more, _gives(feature, speaker)]


def _listed(features: Sequence[Feature], speaker: Speaker) -> Section:
    """Each feature with what it gives, for things whose features are few."""
    lines = []
    for feature in features:
        given = "; ".join(_grants(feature.grants, speaker))
        if not given:
            given = f"no number: {feature.no_number}"
        elif feature.no_number:
            given += f"; no number: {feature.no_number}"
        since = f" (level {feature.level})" if feature.level > 1 else ""
        lines.append(f"{feature.name}{since}: {given}")
    return Section("Features", tuple(lines))


def _by_level(features: Sequence[Feature]) -> Section:
    levels: dict[int, list[str]] = {}
    for feature in features:
        for level in sorted({feature.level, *(g.level for g in feature.grants if g.level is not None)}):
            levels.setdefault(level, []).append(feature.name)
    lines = (f"{level}: {', '.join(dict.fromkeys(names))}" for level, names in sorted(levels.items()))
    return Section("Features by level", tuple(lines))


def _class(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    content = named.entry
    assert isinstance(content, ClassContent)
    speaker = Speaker(catalog, ("class", named.id))
    die = content.hit_die
    saves = " and ".join(ABILITY_NAMES[a] for a in content.saves)
    facts = [
        f"hit points: {die} at level 1, then {die // 2 + 1} or 1d{die}, each with the Constitution modifier",
        f"saving throws: {saves}",
        *_grants(content.start, speaker),
        f"{content.subclass_title} at level {content.subclass_level}: "
        + (", ".join(s.name for s in catalog.subclasses(named.id)) or "none at hand"),
    ]
    needs = [f"{ABILITY_NAMES[a]} {n}" for a, n in content.multiclass.all_of.items()]
    either = " or ".join(f"{ABILITY_NAMES[a]} {n}" for a, n in content.multiclass.any_of.items())
    asks = " and ".join([*needs, *([either] if either else [])])
    beside = [f"asks for {asks}"] if asks else []
    return f"hit die d{die}, {saves} saves", [
        Section("", tuple(facts)),
        Section("As a further class", (*beside, *_grants(content.multiclass.grants, speaker))),
        _gear(content.starting_gear, catalog),
        _by_level(content.features),
        Section("Class table", (), class_tables(content, catalog.release)),
    ]  # fmt: skip


def _gear(lines: Iterable[Any], catalog: Catalog) -> Section:
    def thing(text: str) -> str:
        count, _, rest = text.rpartition(" ")
        item = catalog.named("item", rest)
        name = item.name if item is not None else rest.replace("-", " ")
        return f"{count} × {name}" if count else name

    told = (" or ".join(" and ".join(thing(t) for t in option) for option in line.options) for line in lines)
    return Section("Starting equipment", tuple(told))


def _subclass(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    content = named.entry
    assert isinstance(content, Subclass)
    owner = catalog.class_(content.of or "")
    title = owner.subclass_title if owner is not None else "subclass"
    first = f"{title} of the {owner.name if owner is not None else content.of}"
    return first, [_listed(content.features, Speaker(catalog, ("subclass", named.id)))]


def _species(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    content = named.entry
    assert isinstance(content, Species)
    above = catalog.species(content.of) if content.of else None
    size, speed = content.size or (above and above.size), content.speed or (above and above.speed)
    words = (
        f"kind of {above.name}" if above else "",
        f"size {size}" if size else "",
        f"speed {speed} feet" if speed else "",
    )
    first = ", ".join(word for word in words if word)
    below = catalog.subspecies(named.id)
    kinds = [Section("", (f"choose one: {', '.join(s.name for s in below)}",))] if below else []
    speaker = Speaker(catalog, ("species", named.id))
    return first, [*kinds, _listed(content.features, speaker)]


def _background(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    content = named.entry
    assert isinstance(content, Featured)
    gear = _gear(getattr(content, "starting_gear", ()), catalog)
    names = ", ".join(f.name for f in content.features)
    return names, [_listed(content.features, Speaker(catalog, ("background", named.id))), gear]


def _option(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    content = named.entry
    assert isinstance(content, Option)
    asked = []
    if content.level > 1:
        asked.append(f"from level {content.level} of the class")
    if content.requires_text:
        asked.append(content.requires_text)
    elif content.requires is not None:
        asked.append(Speaker(catalog).words(content.requires))
    first = owner_name(named, catalog) or "feat"
    if asked:
        first += f", needs: {'; '.join(asked)}"
    again = [Section("", ("may be taken more than once",))] if content.repeatable else []
    return first, [*again, _gives(content, Speaker(catalog))]


def _state(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    content = named.entry
    assert isinstance(content, State)
    speaker = Speaker(catalog, _owner_of_state(content, catalog))
    if content.needs is None:
        first = "anyone may be in it"
    else:
        called = next((n.name for k in ("feature", "spell", "item") if (n := catalog.named(k, content.needs))), None)
        first = f"needs {called or content.needs.replace('-', ' ')}"
    return first, [_gives(content, speaker), Section("", ("switch it on with the option `while`",))]


def _owner_of_state(content: State, catalog: Catalog) -> tuple[str, str] | None:
    """What gives the feature that the state needs: its columns and levels are those of the state's formulas."""
    needed = catalog.named("feature", content.needs) if content.needs else None
    return needed.owner if needed is not None else None


def _choice_list(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    content = named.entry
    assert isinstance(content, ChoiceList)
    return f"picked under “{content.keyword}”", [Section("", (", ".join(o.name for o in content.options),))]


def _spell(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    first, lines = spell_facts(named, catalog)
    return first, [Section("", lines)]


def _creature(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    first, lines = creature_facts(named, catalog)
    return first, [Section("", lines)]


def _item(named: Named, catalog: Catalog) -> tuple[str, list[Section]]:
    first, lines = item_facts(named, catalog)
    content = named.entry
    assert isinstance(content, Featured)
    return first, [Section("", lines), _listed(content.features, Speaker(catalog, ("item", named.id)))]


_TELLERS: Final[dict[str, Callable[[Named, Catalog], tuple[str, list[Section]]]]] = {
    "spell": _spell,
    "feature": _feature,
    "item": _item,
    "class": _class,
    "subclass": _subclass,
    "species": _species,
    "background": _background,
    "feat": _option,
    "creature": _creature,
    "condition": _state,
    "state": _state,
    "option": _option,
    "choice-list": _choice_list,
}
