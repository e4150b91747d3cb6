"""What holds for every number of every build."""

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.build.document import Build
from engine.rules.words import ABILITIES
from engine.sheet import Number, gather, sheet, sheets_of, timeline
from tests.engine.sheet.make import build, catalog
from tests.engine.sheet.strategies import CLASSES, STATES, builds

SLOW = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
SKILLS = tuple(s.id for s in catalog().release.skills)
# Design, section 5: names that need no content are always there.
ALWAYS = (
    *(f"ability.{a}.{part}" for a in ABILITIES for part in ("score", "modifier")),
    *(f"check.{a}" for a in ABILITIES),
    *(f"save.{a}" for a in ABILITIES),
    *(f"skill.{s}{part}" for s in SKILLS for part in ("", ".lowest", ".passive")),
    *(f"slots.{n}" for n in range(1, 10)),
    "pact.slots", "pact.slot_level", "hp.max", "ac", "initiative", "speed.walk", "carry.capacity", "carry.weight",
    "attunement.used", "proficiency_bonus", "level.character", "attacks.per_action", "attack.unarmed-strike.to_hit",
    "attack.unarmed-strike.damage",
)  # fmt: skip


def adds_up(number: Number) -> bool:
    """Reasons add up to the value, or there is exactly one and it is the value."""
    if isinstance(number.value, str):
        return len(number.reasons) == 1 and number.reasons[0].amount == number.value
    amounts = [r.amount for r in number.reasons]
    assert all(not isinstance(a, str) for a in amounts)
    return abs(float(sum(Fraction(a) for a in amounts)) - float(number.value)) < 1e-6


@SLOW
@given(builds(), st.lists(st.sampled_from(STATES), max_size=2, unique=True))
def test_reasons_add_up_and_name_their_sources(document: Build, states: list[str]) -> None:
    for found in timeline(document, catalog(), states):
        for name, number in found.numbers.items():
            assert adds_up(number), (name, number)
            assert all(r.label and r.source for r in (*number.reasons, *number.beaten)), (name, number)
        assert all(n.label and n.text and n.source for n in found.notes)


@SLOW
@given(builds(), st.lists(st.sampled_from(STATES), max_size=2, unique=True), st.data())
def test_a_level_of_the_timeline_is_the_sheet_of_that_level(
    document: Build, states: list[str], data: st.DataObject
) -> None:
    every = timeline(document, catalog(), states)
    assert [s.level for s in every] == list(range(1, document.top + 1))
    level = data.draw(st.integers(1, document.top))
    alone = sheet(document, catalog(), level, states)
    shared = every[level - 1]
    assert dict(alone.numbers) == dict(shared.numbers)
    assert alone.notes == shared.notes


@SLOW
@given(builds())
def test_names_that_need_no_content_are_always_there(document: Build) -> None:
    for found in sheets_of(gather(document, catalog())):
        assert [name for name in ALWAYS if name not in found.numbers] == []
        assert found.numbers["level.character"].value == found.level


@SLOW
@given(builds())
def test_every_choice_is_answered_by_what_it_asks_for(document: Build) -> None:
    found = gather(document, catalog())
    assert found.spare == ()
    assert found.missing == ()
    for opened in found.opened:
        if opened.choice.keyword == "increase":
            points = sum(p.pick.count for p in opened.picks)
            assert points <= opened.count * opened.choice.amount
        else:
            assert len(opened.picks) <= opened.count
        assert all(p.owner == opened.owner for p in opened.picks)


@pytest.mark.parametrize("class_id", CLASSES)
def test_each_class_alone_has_all_its_levels(class_id: str) -> None:
    every = timeline(build(f"{class_id} 20", species="human"), catalog())
    assert [s.numbers[f"level.{class_id}"].value for s in every] == list(range(1, 21))


def test_a_level_that_the_build_does_not_have_is_refused() -> None:
    document = build("rogue 3", species="human")
    for level in (0, 4, 21):
        with pytest.raises(ValueError, match="levels 1 to 3"):
            sheet(document, catalog(), level)
