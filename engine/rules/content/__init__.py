"""Content models: one module per kind of entry a folio can hold."""

from typing import Final

from engine.rules.content.background import Background, CustomBackground
from engine.rules.content.chosen import ChoiceList, Feat, Option
from engine.rules.content.classes import ClassContent, Multiclass, Subclass
from engine.rules.content.creature import Creature
from engine.rules.content.entry import Entry, Feature
from engine.rules.content.item import Armor, Item, Magic, Weapon
from engine.rules.content.release import Release, Skill, Word
from engine.rules.content.species import Species
from engine.rules.content.spell import Area, Scaling, Spell, SpellDamageDice
from engine.rules.content.state import Condition, State

# Folder of a folio -> model of each entry in it.
FOLDERS: Final[dict[str, type[Entry]]] = {
    "classes": ClassContent,
    "subclasses": Subclass,
    "species": Species,
    "backgrounds": Background,
    "feats": Feat,
    "choices": ChoiceList,
    "spells": Spell,
    "items": Item,
    "creatures": Creature,
    "states": State,
    "conditions": Condition,
}

__all__ = [
    "FOLDERS",
    "Area",
    "Armor",
    "Background",
    "ChoiceList",
    "ClassContent",
    "Condition",
    "Creature",
    "CustomBackground",
    "Entry",
    "Feat",
    "Feature",
    "Item",
    "Magic",
    "Multiclass",
    "Option",
    "Release",
    "Scaling",
    "Skill",
    "Species",
    "Spell",
    "SpellDamageDice",
    "State",
    "Subclass",
    "Weapon",
    "Word",
]
