"""Magic items that are enchantments of others: one item for each base it can be made of."""

from collections.abc import Callable, Iterator
from typing import Any

from engine.rules.content import Item


def enchantments(item: Item, find: Callable[[str], Item | None]) -> Iterator[Item]:
    """Yield the item itself, with the facts of its first base, and one item for each base where there are several.

    find: returns an item by id. Bases that nothing gives are left out; with none left the item comes as it is.
    """
    magic = item.magic
    assert magic is not None
    bases = [base for id_ in magic.base if (base := find(id_)) is not None]
    if not bases:
        yield item
        return
    yield item.model_copy(update=_taken(item, bases[0]))
    if len(bases) == 1:
        return
    for base in bases:
        name = (magic.named or f"{item.name} {{}}").replace("{}", base.name)
        made = {"id": f"{item.id}-{base.id}", "name": name, "also": (), **_taken(item, base)}
        yield item.model_copy(update=made)


def _taken(item: Item, base: Item) -> dict[str, Any]:
    armor = item.armor or base.armor
    if armor is not None and item.magic is not None and item.magic.unburdened:
        armor = armor.model_copy(update={"strength": None, "stealth_disadvantage": False})
    return {
        "base": base.id,
        "weapon": item.weapon or base.weapon,
        "armor": armor,
        "weight": base.weight if item.weight is None else item.weight,
    }
