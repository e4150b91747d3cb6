"""Which states a build can be in, and how their names are read."""

from engine.problem import Refused
from engine.sheet import gather
from engine.sheet.states import find_states, possible_states, split_states, state_names
from tests.engine.sheet.make import build, catalog


def test_names_are_read_in_any_spelling_and_once() -> None:
    assert split_states(" Rage , ,Mage Armor,") == ("Rage", "Mage Armor")
    assert find_states(["RAGE", "raging", "mage-armor", "Blinded"], catalog()) == (
        "rage",
        "mage-armor",
        "blinded",
    )
    assert find_states([], catalog()) == ()
    wrong = find_states(["rage", "Exhaustian 3"], catalog())
    assert isinstance(wrong, Refused)
    assert wrong.code == "no-such-state"
    assert "Exhaustion" in wrong.sentence
    assert state_names(("rage", "not-there"), catalog()) == ("Rage", "not-there")


def test_states_of_features_and_spells_need_them() -> None:
    """SRD 5.1, Classes, Barbarian: Rage at level 1, Reckless Attack at 2; Druid: Wild Shape at 2."""
    gathered = gather(build("barbarian 2, wizard 1", lines={"wizard 1": ["spell shield, mage-armor"]}), catalog())

    def able(level: int) -> list[str]:
        return [named.id for named in possible_states(gathered, level)]

    assert able(1)[0] == "rage"
    assert "reckless-attack" not in able(1)
    assert able(2)[:2] == ["rage", "reckless-attack"]
    assert "shield" not in able(2)
    assert "shield" in able(3)[:3]
    assert "wild-shape" not in able(3)
    # What others cast, conditions and situations may befall anybody.
    for id_ in ("mage-armor", "bless", "exhaustion-6", "poisoned", "half-cover"):
        assert id_ in able(1)


def test_everything_is_possible_to_somebody() -> None:
    """No state needs what no feature, spell or item of the release gives."""
    release = catalog()
    known = {n.id for kind in ("feature", "spell", "item") for n in release.every(kind)}
    for kind in ("state", "condition"):
        for named in release.every(kind):
            state = release.state(named.id)
            assert state is not None
            assert state.needs is None or state.needs in known, named.id
