"""What numbers are called and how they are written where they are published."""

import pytest

from engine.publish.words import called, listed, shown
from engine.rules.catalog import Catalog


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("hp.max", "hit points"),
        ("check.wis", "Wisdom check"),
        ("save.dex", "Dexterity save"),
        ("ability.dex.modifier", "Dexterity modifier"),
        ("ability.dex.score", "Dexterity"),
        ("skill.sleight-of-hand.lowest", "lowest Sleight of Hand total"),
        ("tool.thieves-tools", "Thieves' Tools"),
        ("speed.walk", "speed"),
        ("speed.fly", "fly speed"),
        ("senses.darkvision", "darkvision"),
        ("slots.3", "3rd-level slots"),
        ("hit_dice.d8", "hit dice d8"),
        ("level.ranger", "Ranger level"),
        ("casting.ranger.save_dc", "Ranger spell save DC"),
        ("casting.ranger.something", "Ranger something"),
        ("attack.dagger.off_hand.to_hit", "Dagger off hand to hit"),
        ("pool.second-wind.uses", "Second Wind uses"),
        ("dc.stunning-strike", "Stunning Strike DC"),
        ("attack.moon-hook.damage", "Moon hook damage"),
        ("tide.height", "tide.height"),
    ],
)
def test_numbers_are_called_by_their_words(name: str, words: str, release: Catalog) -> None:
    assert called(name, release) == words


def test_values_are_written_as_people_write_them() -> None:
    assert [shown("save.dex", 3), shown("hp.max", 56), shown("hp.max", None), shown("pool.rage.uses", "unlimited")] == [
        "+3", "56", "-", "unlimited",
    ]  # fmt: skip
    assert [listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"], "or")] == ["a", "a and b", "a, b or c"]
