"""Starting equipment as each class and background prints it (SRD 5.1, Classes, Equipment; Backgrounds, Acolyte)."""

from itertools import product
from random import Random

import pytest

from engine.audit import audit
from engine.build.document import Build, Origin, Pick
from engine.rules.catalog import Catalog
from engine.rules.content import Item
from engine.store.folio_files import load_shipped

SRD = Catalog([load_shipped("srd-5.1")])
CLASSES = sorted({n.id for n in SRD.every("class")})
COINS = {"gp", "sp", "cp"}


def members(group: str) -> list[str]:
    """Ids of what `any-GROUP` may stand for, read from the items themselves."""
    items = [n.entry for n in SRD.every("item") if isinstance(n.entry, Item) and n.entry.magic is None]
    found = [i.id for i in items if group in i.groups]
    if group.endswith("weapon"):
        words = set(group.removesuffix("weapon").strip("-").split("-"))
        weapons = [i for i in items if i.weapon is not None]
        found += [i.id for i in weapons if i.weapon and words <= {i.weapon.group, i.weapon.reach}]
    return sorted(found)


def picks(options: tuple[str, ...], dice: Random) -> list[Pick]:
    found = []
    for entry in options:
        count, _, id_ = entry.rpartition(" ")
        for _ in range(int(count or 1) if id_.startswith("any-") else 1):
            if id_.startswith("any-"):
                found.append(Pick(id=dice.choice(members(id_.removeprefix("any-")))))
            elif SRD.item(id_) is not None:
                found.append(Pick(id=id_, count=int(count or 1)))
            else:
                assert id_ in COINS, id_
    return found


def beyond(class_id: str, gear: list[Pick]) -> list[str]:
    """What the audit says goes beyond the starting equipment."""
    build = Build(name="Quay Hand", background=Origin(id="acolyte"), order=(class_id,), gear=tuple(gear))
    return [f.message for f in audit(build, SRD) if f.code == "starting-gear"]


@pytest.mark.parametrize("class_id", CLASSES)
def test_every_combination_is_allowed_and_one_thing_more_is_told(class_id: str) -> None:
    dice = Random(class_id)
    class_, background = SRD.class_(class_id), SRD.background("acolyte")
    assert class_ is not None
    assert background is not None
    rows = [line.options for line in (*class_.starting_gear, *background.starting_gear)]
    assert len(rows) >= 4
    combinations = list(product(*rows))
    assert len(combinations) >= 4
    for combination in dice.sample(combinations, min(len(combinations), 24)):
        gear = [pick for options in combination for pick in picks(options, dice)]
        assert beyond(class_id, gear) == [], gear
        assert beyond(class_id, gear[1:]) == []  # less is the build's own affair
        (said,) = beyond(class_id, [*gear, Pick(id="spyglass")])
        assert "Spyglass; it must be bought or given." in said
        assert class_.name in said
        assert "Acolyte" in said


def test_a_choice_is_not_had_twice() -> None:
    # SRD 5.1, Classes, Fighter, Equipment: chain mail, or leather armor with a longbow
    (said,) = beyond("fighter", [Pick(id="chain-mail"), Pick(id="leather-armor")])
    assert said.count("Leather Armor") + said.count("Chain Mail") == 1
