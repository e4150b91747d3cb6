"""Reference builds: one for each class of SRD 5.1, levels 1 to 20, to measure other builds against.

They stand beside this text as outlines, are legal by the audit, and follow one written rule, so that anybody can read
and dispute them. They are no advice; they are what one gets by choosing plainly.

1. Scores: the standard array, its values from high to low in the order that ORDER gives for the class.
2. Species: human, who adds the same to every score. Background: acolyte, the only one the release prints.
3. One class for all twenty levels, with the only subclass that the release prints for it.
4. Ability score increases go into the scores in the same order, each to 20 before the next. No feats.
5. Skills, and expertise: the first on the list Perception, Stealth, Athletics, Acrobatics, Persuasion, Arcana,
   Investigation, Survival that can still be chosen, then by name.
6. Cantrips: the first of Eldritch Blast, Fire Bolt, Sacred Flame, Produce Flame, Vicious Mockery that can still be
   learned, then by name. Spells: of the highest level that can be learned, by name. Nothing is prepared or swapped.
7. Styles: Dueling for fighter and paladin (then Defense), Archery for the ranger. Invocations: Agonizing Blast first.
   Boon: Pact of the Tome. Every other choice: the first by name.
8. Gear: what the class may start with, of what deals damage the first printed choice that its proficiencies and the
   armor and weapon named in ORDER allow, no magic. From level 5 on, who wears armor wears the best of its kind that
   money buys: plate, or studded leather.
"""

from functools import lru_cache
from importlib.resources import files
from typing import Final

ORDER: Final[dict[str, str]] = {
    "barbarian": "str con dex wis cha int",
    "bard": "cha dex con wis int str",
    "cleric": "wis str con cha dex int",
    "druid": "wis con dex int cha str",
    "fighter": "str con dex wis cha int",
    "monk": "dex wis con str int cha",
    "paladin": "str cha con wis dex int",
    "ranger": "dex wis con str int cha",
    "rogue": "dex con wis int cha str",
    "sorcerer": "cha con dex wis int str",
    "warlock": "cha con dex wis int str",
    "wizard": "int con dex wis cha str",
}


@lru_cache(maxsize=1)
def outlines() -> tuple[str, ...]:
    """Return the outlines of all reference builds, by class id in the order of the alphabet."""
    return tuple((files(__name__) / f"{class_id}.outline").read_text(encoding="utf-8") for class_id in sorted(ORDER))
