"""Every feature of folio srd-5.1 has typed grants, or says why it is no number.

`MUST_BE_TYPED` is made by hand from the rules text (SRD 5.1, Classes, Feats, Races): what changes a number or a roll
and with which kinds of grants. tests/engine/rules/test_classes.py holds the whole list class by class; here stand the
grants that are hard to get right, and the states.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final

import pytest

from engine.rules.catalog import Catalog, Named
from engine.rules.content import Feature
from engine.rules.grants import GRANT_KINDS
from engine.store.folio_files import load_shipped
from tests.reference.figures import CLASSES

CATALOG: Final = Catalog([load_shipped("srd-5.1")])

# `owner/feature` -> kinds of grants it must have.
MUST_BE_TYPED: Final[dict[str, set[str]]] = {
    "barbarian/unarmored-defense": {"armor-formula"},
    "monk/unarmored-defense": {"armor-formula"},
    "barbarian/rage": {"pool"},
    "barbarian/danger-sense": {"advantage"},
    "barbarian/fast-movement": {"speed"},
    "barbarian/feral-instinct": {"advantage"},
    "barbarian/brutal-critical": {"extra-critical-dice"},
    "barbarian/indomitable-might": {"lowest-total"},
    "barbarian/primal-champion": {"ability-increase", "ability-cap"},
    "path-of-the-berserker/intimidating-presence": {"save-dc"},
    "bard/bardic-inspiration": {"pool", "extra-die"},
    "bard/jack-of-all-trades": {"half-proficiency"},
    "bard/magical-secrets": {"choice"},
    "bard/expertise": {"choice"},
    "college-of-lore/cutting-words": {"extra-die"},
    "college-of-lore/additional-magical-secrets": {"choice"},
    "cleric/channel-divinity": {"pool"},
    "paladin/channel-divinity": {"pool"},
    "life-domain/life-domain-spells": {"extra-spells"},
    "life-domain/divine-strike": {"extra-damage"},
    "druid/wild-shape": {"pool", "shape-limit"},
    "circle-of-the-land/circle-spells": {"choice"},
    "circle-of-the-land/natural-recovery": {"pool"},
    "fighter/fighting-style": {"choice"},
    "fighter/second-wind": {"pool"},
    "fighter/action-surge": {"pool"},
    "fighter/indomitable": {"pool"},
    "champion/improved-critical": {"critical-range"},
    "champion/remarkable-athlete": {"half-proficiency", "jump"},
    "champion/superior-critical": {"critical-range"},
    "monk/martial-arts": {"weapon-ability", "weapon-die"},
    "monk/ki": {"pool", "save-dc"},
    "monk/unarmored-movement": {"speed"},
    "monk/diamond-soul": {"proficiency"},
    "paladin/divine-smite": {"extra-damage"},
    "paladin/improved-divine-smite": {"extra-damage"},
    "paladin/lay-on-hands": {"pool"},
    "paladin/aura-of-protection": {"save-bonus"},
    "paladin/aura-of-courage": {"defense"},
    "oath-of-devotion/oath-of-devotion-spells": {"extra-spells"},
    "ranger/favored-enemy": {"choice", "advantage"},
    "ranger/natural-explorer": {"choice"},
    "rogue/sneak-attack": {"extra-damage"},
    "rogue/expertise": {"choice"},
    "rogue/reliable-talent": {"lowest-d20"},
    "rogue/slippery-mind": {"proficiency"},
    "rogue/blindsense": {"sense"},
    "thief/second-story-work": {"jump"},
    "sorcerer/font-of-magic": {"pool"},
    "sorcerer/metamagic": {"choice"},
    "draconic-bloodline/draconic-resilience": {"hit-points", "armor-formula"},
    "draconic-bloodline/elemental-affinity": {"spell-damage"},
    "draconic-bloodline/dragon-wings": {"speed"},
    "warlock/pact-magic": {"spellcasting"},
    "warlock/eldritch-invocations": {"choice"},
    "warlock/pact-boon": {"choice"},
    "warlock/mystic-arcanum": {"choice", "pool"},
    "the-fiend/fiend-expanded-spells": {"extra-spells"},
    "the-fiend/dark-ones-own-luck": {"pool", "extra-die"},
    "wizard/spellcasting": {"spellcasting"},
    "wizard/arcane-recovery": {"pool"},
    "wizard/spell-mastery": {"choice"},
    "school-of-evocation/empowered-evocation": {"spell-damage"},
    "eldritch-invocations/agonizing-blast": {"spell-damage"},
    "eldritch-invocations/beguiling-influence": {"proficiency"},
    "eldritch-invocations/lifedrinker": {"damage-bonus"},
    "eldritch-invocations/thirsting-blade": {"attacks"},
    "pact-boons/pact-of-the-tome": {"choice"},
    "fighting-styles/archery": {"attack-bonus"},
    "fighting-styles/defense": {"armor-bonus"},
    "fighting-styles/dueling": {"damage-bonus"},
    "fighting-styles/great-weapon-fighting": {"damage-reroll"},
    "fighting-styles/two-weapon-fighting": {"off-hand-modifier"},
    "hunters-prey/colossus-slayer": {"extra-damage"},
    **{f"{owner}/extra-attack": {"attacks"} for owner in ("barbarian", "fighter", "monk", "paladin", "ranger")},
    **{
        f"{owner}/spellcasting": {"spellcasting"}
        for owner in ("bard", "cleric", "druid", "paladin", "ranger", "sorcerer", "wizard")
    },
    **{f"{owner}/ability-score-improvement": {"choice"} for owner in CLASSES},
    "elf/keen-senses": {"proficiency"},
    "half-elf/skill-versatility": {"choice"},
    "halfling/halfling-lucky": {"reroll-d20"},
    "hill-dwarf/dwarven-toughness": {"hit-points"},
    "half-orc/savage-attacks": {"extra-critical-dice"},
    "gnome/gnome-cunning": {"advantage"},
}
STATES_TYPED: Final[dict[str, set[str]]] = {
    "rage": {"advantage", "damage-bonus", "defense"},
    "mage-armor": {"armor-formula"},
    "shield": {"armor-bonus"},
    "haste": {"armor-bonus", "speed", "advantage"},
    "bless": {"extra-die"},
    "sacred-weapon": {"attack-bonus"},
    "hunters-mark": {"extra-damage"},
    "exhaustion-1": {"advantage"},
    "exhaustion-2": {"speed"},
    "exhaustion-4": {"hit-points-halved"},
    "poisoned": {"advantage"},
    "restrained": {"speed", "advantage"},
    "grappled": {"speed"},
    "jump": {"jump"},
    "step-of-the-wind": {"jump"},
}


def features() -> Iterator[Named]:
    """Features of classes, subclasses, species, backgrounds and choice lists, and feats."""
    for named in CATALOG.every("feature"):
        if named.owner is not None and named.owner[0] != "item":
            yield named
    yield from CATALOG.every("feat")


def test_no_feature_has_neither_typed_grants_nor_a_reason() -> None:
    neither, counts = [], Counter[tuple[str, str]]()
    for named in features():
        feature = named.entry
        assert isinstance(feature, Feature)
        typed = any(grant.kind != "note" for grant in feature.grants)
        owner = named.owner[0] if named.owner is not None else named.kind
        counts[owner, "typed" if typed else "without a number"] += 1
        if not typed and not feature.no_number:
            neither.append((named.owner, named.id))
    for (owner, how), count in sorted(counts.items()):
        print(f"{owner}: {count} {how}")
    print(f"neither: {len(neither)}")
    assert neither == []
    assert sum(counts.values()) > 350


@pytest.mark.parametrize("class_id", CLASSES)
def test_counts_of_a_class(class_id: str) -> None:
    owners = {("class", class_id), *(("subclass", s.id) for s in CATALOG.subclasses(class_id))}
    mine = [n.entry for n in CATALOG.every("feature") if n.owner in owners]
    entries = [entry for entry in mine if isinstance(entry, Feature)]
    typed = [entry for entry in entries if any(grant.kind != "note" for grant in entry.grants)]
    reasons = [entry for entry in entries if entry.no_number]
    kinds: Counter[str] = Counter(grant.kind for entry in entries for grant in entry.grants)
    print(
        f"{class_id}: {len(entries)} features, {len(typed)} typed, {len(reasons)} with a reason why not; "
        + ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    )
    assert len(entries) == len(mine) >= 11
    assert len(typed) >= 5
    assert {entry.id for entry in entries} <= {entry.id for entry in (*typed, *reasons)}


@pytest.mark.parametrize("place", sorted(MUST_BE_TYPED))
def test_feature_is_typed(place: str) -> None:
    feature = CATALOG.feature(place)
    assert feature is not None, f"no feature {place}"
    missing = MUST_BE_TYPED[place] - {grant.kind for grant in feature.grants}
    assert not missing, f"{place} lacks {missing}"


@pytest.mark.parametrize("id_", sorted(STATES_TYPED))
def test_state_is_typed(id_: str) -> None:
    state = CATALOG.state(id_)
    assert state is not None, f"no state {id_}"
    missing = STATES_TYPED[id_] - {grant.kind for grant in state.grants}
    assert not missing, f"{id_} lacks {missing}"


def test_every_kind_of_grant_is_known_by_the_folio_or_named_here() -> None:
    """A kind of grant that nothing uses is dead weight; those that only homebrew needs stand here with the reason."""
    used: set[str] = set()
    for kind in ("feature", "feat", "state", "condition"):
        for named in CATALOG.every(kind):
            assert isinstance(named.entry, Feature)
            used |= {grant.kind for grant in named.entry.grants}
    for class_id in CLASSES:
        content = CATALOG.class_(class_id)
        assert content is not None
        used |= {grant.kind for grant in (*content.start, *content.multiclass.grants)}
    unused = set(GRANT_KINDS) - used
    print(f"{len(used)} kinds of grants in use, {len(unused)} not: {sorted(unused)}")
    assert unused <= ONLY_ELSEWHERE


# Kinds that SRD 5.1 does not need as content: sizes and speeds are facts of species, and the rest stands ready for
# folios (a feat with a fixed expertise or a bonus to one passive score).
ONLY_ELSEWHERE: Final = {
    "attunement", "expertise", "initiative-bonus", "natural-weapon", "passive-bonus", "size", "slot-bonus",
}  # fmt: skip
