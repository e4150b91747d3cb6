"""A thousand random builds of the catalogue's own choices break no rule; one illegal change to each is found."""

from collections import Counter
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.audit import audit
from engine.build.document import Build, Choose, Granted, Item
from engine.build.outline import parse_outline, print_outline
from engine.rules.catalog import Catalog
from engine.store.folio_files import load_shipped
from tests.engine.audit.legal_builds import LENGTHS, author, legal_builds
from tests.engine.audit.mutations import MUTATIONS

SRD = Catalog([load_shipped("srd-5.1")])
CLASSES = sorted({n.id for n in SRD.every("class")})
BROKEN = ("breaks-rules", "breaks-table-rules")
# Twelve classes begin 84 builds each.
EACH = 84
RUN = settings(
    max_examples=EACH,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@pytest.mark.parametrize("first", CLASSES)
def test_legal_builds_break_nothing(first: str) -> None:
    """No finding breaks the rules, the outline gives the same build back, and an illegal change is named."""
    made: Counter[str] = Counter()

    @RUN
    @given(legal_builds(SRD, first), st.randoms(use_true_random=True))
    def check(build: Build, dice: Random) -> None:
        found = audit(build, SRD)
        assert [f for f in found if f.severity in BROKEN] == []
        assert parse_outline(print_outline(build, SRD), SRD) == build
        for mutation in dice.sample(MUTATIONS, len(MUTATIONS)):
            broken = mutation(build, SRD, dice)
            if broken is not None:
                changed, code, level = broken
                named = {(f.code, f.level) for f in audit(changed, SRD)}
                assert (code, level) in named, (mutation.__name__, named)
                made[mutation.__name__] += 1
                break

    check()
    print(f"{first}: {made.total()} builds; {', '.join(f'{count} {name}' for name, count in sorted(made.items()))}")
    assert made.total() >= EACH  # each build was changed in one way
    assert len(made) >= 6


def keywords_of(items: tuple[Item, ...]) -> Counter[str]:
    """Count the keywords among items, parentheses included."""
    found: Counter[str] = Counter()
    for item in items:
        found[item.kind] += 1
        if isinstance(item, Granted):
            found += keywords_of((item.item,))
        if isinstance(item, Choose):
            found[item.keyword] += 1
            for pick in item.picks:
                found += keywords_of(pick.items)
    return found


def test_every_class_and_keyword_is_drawn_ten_times() -> None:
    """Among as many builds as the property test draws, nothing that can be written is rare."""
    drawn: Counter[str] = Counter()
    classes: Counter[str] = Counter()
    for seed in range(EACH * len(CLASSES)):
        dice = Random(seed)
        build = author(SRD, dice).write(dice.choice(CLASSES), dice.choice(LENGTHS))
        classes.update(set(build.order))
        for origin in (build.species, build.background):
            assert origin is not None
            drawn += keywords_of(origin.items)
        for _, _, _, line in build.lines():
            drawn += keywords_of(line.items)
            drawn["subclass"] += line.subclass is not None
            drawn["hp"] += line.hp is not None
        drawn["prepared"] += bool(build.prepared)
    opened = {
        c.keyword
        for n in (*SRD.every("feature"), *SRD.every("feat"))
        for c in getattr(n.entry, "grants", ())
        if c.kind == "choice"
    }
    opened |= {"cantrip", "spell", "copied", "feat", "feature", "swap", "subclass", "hp", "prepared", "gain", "lose"}
    # Improvements are written as `+N ABILITY`, not under a keyword.
    assert {k: n for k, n in drawn.items() if k in opened and n < 10} == {}
    assert opened - set(drawn) == set()
    assert set(CLASSES) == {c for c, n in classes.items() if n >= 10}


@pytest.mark.parametrize("mutation", MUTATIONS, ids=lambda m: m.__name__)
def test_every_illegal_change_can_be_made(mutation: object) -> None:
    """Each change applies to some drawn build, so that none of them is dead."""
    dice = Random(7)
    builds = (author(SRD, dice).write(dice.choice(CLASSES), 12) for _ in range(40))
    assert callable(mutation)
    assert any(mutation(build, SRD, dice) is not None for build in builds)
