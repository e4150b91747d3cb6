"""Legal builds that the tests of the audit start from, as outlines: our guild of cartographers and its neighbours."""

from pathlib import Path
from typing import Final

REED: Final = (Path(__file__).parents[2] / "data" / "reed-warden.outline").read_text(encoding="utf-8")

SCRIBE: Final = """\
Build: Lantern Scribe
Concept: keeps the guild's book of lights
Rules: SRD 5.1
Scores: Str 8, Dex 14, Con 13, Int 15, Wis 12, Cha 10 (point buy)
Species: High Elf (cantrip Light; language Goblin)
Background: Acolyte (languages Dwarvish, Giant)
Gear: Quarterstaff, Spellbook
Prepared: Magic Missile, Shield, Sleep, Mage Armor, Burning Hands, Misty Step, Web, Fireball, Fly
1 Wizard: skills Arcana, History; cantrips Fire Bolt, Mage Hand, Prestidigitation; \
spells Magic Missile, Shield, Sleep, Detect Magic, Mage Armor, Identify
2 Wizard (School of Evocation): spells Burning Hands, Thunderwave
3 Wizard: spells Misty Step, Scorching Ray
4 Wizard: +2 Int; cantrip Ray of Frost; spells Web, Invisibility
5 Wizard: spells Fireball, Fly; copied Alarm
"""

PIPER: Final = """\
Build: Dune Piper
Concept: sings the soundings
Rules: SRD 5.1
Scores: Str 8, Dex 14, Con 13, Int 10, Wis 12, Cha 15 (standard array)
Species: Half-Elf (+1 Dex, +1 Con; skills Perception, Stealth; language Goblin)
Background: Acolyte (languages Dwarvish, Giant)
Gear: Rapier, Leather Armor, Dagger, Lute
1 Bard: skills Acrobatics, Performance, Persuasion; tools Lute, Flute, Drum; \
cantrips Vicious Mockery, Light; spells Healing Word, Charm Person, Faerie Fire, Thunderwave
2 Bard: spell Sleep
3 Bard (College of Lore): skills Arcana, History, Nature; expertise Persuasion, Stealth; spell Invisibility
4 Bard: +1 Cha, +1 Con; cantrip Minor Illusion; spell Suggestion
5 Bard: spell Hypnotic Pattern
6 Bard: secrets Fireball, Counterspell; spell Fear
7 Bard: spell Polymorph; swap Sleep for Heroism
8 Bard: +2 Cha; spell Confusion
9 Bard: spell Hold Monster
10 Bard: expertise Acrobatics, Performance; cantrip Mage Hand; secrets Cone of Cold, Wall of Force
"""

HEX: Final = """\
Build: Kelp Broker
Concept: owes the deep a favour
Rules: SRD 5.1
Scores: Str 8, Dex 14, Con 13, Int 10, Wis 12, Cha 15 (standard array)
Species: Tiefling
Background: Acolyte (languages Dwarvish, Giant)
Gear: Light Crossbow, 20 Crossbow Bolts, Leather Armor, 2 Dagger
1 Warlock (The Fiend): skills Arcana, Deception; cantrips Eldritch Blast, Chill Touch; \
spells Hellish Rebuke, Charm Person
2 Warlock: spell Unseen Servant; invocations Agonizing Blast, Devil's Sight
3 Warlock: spell Invisibility; boon Pact of the Tome (cantrips Light, Guidance, Vicious Mockery)
4 Warlock: +2 Cha; cantrip Mage Hand; spell Misty Step
5 Warlock: spell Counterspell; invocation Eldritch Spear; swap Devil's Sight for Mask of Many Faces
"""

WATCH: Final = """\
Build: Breakwater Watch
Concept: holds the harbour stair
Rules: SRD 5.1
Scores: Str 15, Dex 12, Con 14, Int 10, Wis 13, Cha 8 (standard array)
Species: Human (language Giant)
Background: Pier Sergeant (custom; skills Insight, Medicine; tool Smith's Tools; language Halfling; \
feature Shelter of the Faithful)
Gear: Chain Mail, Longsword, Shield, 2 Handaxe
1 Fighter: skills Athletics, Perception; style Defense
2 Fighter
3 Fighter (Champion)
4 Fighter: feat Grappler
5 Fighter hp 7 #31
6 Fighter: +2 Con
"""

SHRINE: Final = """\
Build: Salt Shrine
Concept: tends the drowned
Rules: SRD 5.1
Scores: Str 14, Dex 8, Con 13, Int 10, Wis 15, Cha 12 (standard array)
Species: Hill Dwarf (tool Smith's Tools)
Background: Acolyte (languages Elvish, Giant)
Gear: Mace, Scale Mail, Shield
1 Cleric (Life Domain): skills History, Medicine; cantrips Guidance, Light, Sacred Flame; \
prepare Bane, Command, Detect Magic, Sanctuary
2 Cleric
3 Cleric: prepare Bane, Command, Detect Magic, Sanctuary, Aid, Augury
"""

GROVE: Final = """\
Build: Reed Grove
Concept: keeps the marsh paths
Rules: SRD 5.1
Scores: Str 10, Dex 14, Con 13, Int 8, Wis 15, Cha 12 (standard array)
Species: Lightfoot Halfling
Background: Acolyte (languages Elvish, Giant)
Gear: Scimitar, Leather Armor
1 Druid: skills Nature, Survival; cantrips Druidcraft, Guidance
2 Druid (Circle of the Land): cantrip Produce Flame
3 Druid: land Swamp
"""

BASES: Final = {
    "reed": REED,
    "scribe": SCRIBE,
    "piper": PIPER,
    "hex": HEX,
    "watch": WATCH,
    "shrine": SHRINE,
    "grove": GROVE,
}
