"""What breaks which rule: (rule, base build, change, code, level), one row or more for every code of the audit.

`old` and `new` are pieces of the base's outline; `edit` changes the document where no outline can be written.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from engine.build.document import Build, FolioUse, Line, Origin

OURS: Final = "ours"  # a rule of tables, folios or rolls: no release prints it
PRACTICE: Final = "common practice; SRD 5.2.1, Character Creation"


@dataclass(frozen=True)
class Row:
    """One change to one base build and the finding that it must bring, at that level (None: the header)."""

    rule: str
    base: str
    old: str
    new: str
    code: str
    level: int | None
    table: str = ""
    rolls: Mapping[int, tuple[int, ...]] | None = None
    edit: Callable[[Build], Build] | None = field(default=None, compare=False)

    @property
    def id(self) -> str:
        return f"{self.code}-{self.base}"


def _with(**fields: object) -> Callable[[Build], Build]:
    return lambda build: build.model_copy(update=fields)


def _first_hp(build: Build) -> Build:
    lines = {**build.levels["rogue"], 1: build.levels["rogue"][1].model_copy(update={"hp": 6})}
    return build.model_copy(update={"levels": {**build.levels, "rogue": lines}})


def _empty_line(build: Build) -> Build:
    return build.model_copy(update={"order": (), "levels": dict[str, dict[int, Line]]()})


TO_18: Final = "\n".join(f"{n} Wizard" for n in range(6, 19))
TO_11: Final = "\n".join(f"{n} Warlock" for n in range(6, 12))
TIDES: Final = FolioUse(id="tidewater", version="1", hash="0" * 64)

ROWS: Final[tuple[Row, ...]] = (
    # -- breaks-rules: scores and increases
    Row(PRACTICE, "reed", "Str 8, Dex 15", "Str 9, Dex 15", "array-mismatch", None),
    Row(PRACTICE, "scribe", "Int 15", "Int 16", "score-out-of-range", None),
    Row(PRACTICE, "reed", "Str 8, Dex 15, Con 13", "Str 2, Dex 15, Con 13", "array-mismatch", None),
    Row("4d6 drop lowest gives 3 to 18", "watch", "Str 15, Dex 12, Con 14, Int 10, Wis 13, Cha 8 (standard array)",
        "Str 19, Dex 12, Con 14, Int 10, Wis 13, Cha 8 (rolled #4)", "score-out-of-range", None),
    Row(PRACTICE, "scribe", "Cha 10 (point buy)", "Cha 12 (point buy)", "points-overspent", None),
    Row(OURS, "reed", "(standard array)", "(rolled #12)", "roll-differs", None, rolls={12: (15, 14, 13, 12, 10, 9)}),
    Row(OURS, "watch", "hp 7 #31", "hp 9 #31", "roll-differs", 5, rolls={31: (7,)}),
    Row("Using Ability Scores, 20 as the limit", "piper", "4 Bard: +1 Cha, +1 Con", "4 Bard: +2 Cha",
        "increase-above-limit", 8),
    Row("Classes, Rogue, Ability Score Improvement", "reed", "2 Rogue\n", "2 Rogue: +1 Dex\n", "increase-misplaced", 2),
    Row("Classes, Rogue, Ability Score Improvement", "reed", "+1 Dex, +1 Wis\n5", "+2 Dex, +1 Wis\n5",
        "increase-wrong-sum", 4),
    Row("Races, Half-Elf", "reed", "(+1 Dex, +1 Wis;", "(+2 Dex;", "increase-wrong-sum", None),
    Row("Races, Half-Elf", "reed", "(+1 Dex, +1 Wis;", "(+1 Dex, +1 Cha;", "choice-not-on-list", None),
    # -- breaks-rules: classes
    Row("Multiclassing, Prerequisites", "reed", "Con 13, Int 10, Wis 14", "Con 14, Int 13, Wis 10",
        "multiclass-minimum", 5),
    Row("Multiclassing, Prerequisites", "reed", "Dex 15, Con 13, Int 10, Wis 14, Cha 12",
        "Dex 10, Con 13, Int 12, Wis 15, Cha 14", "multiclass-minimum", 5),
    Row("Multiclassing, Prerequisites", "shrine", "Str 14, Dex 8, Con 13, Int 10, Wis 15, Cha 12",
        "Str 12, Dex 8, Con 13, Int 10, Wis 15, Cha 14", "multiclass-minimum", 2, edit=lambda b: b.model_copy(
            update={"order": ("cleric", "fighter"), "levels": {"cleric": {1: b.levels["cleric"][1]}}})),
    Row("Classes, Rogue, Roguish Archetype", "reed", "2 Rogue\n", "2 Rogue (Thief)\n", "subclass-early", 2),
    Row("Classes, Rogue, Roguish Archetype", "reed", "3 Rogue (Thief)", "3 Rogue (Champion)",
        "subclass-wrong-class", 3),
    Row("Classes, Fighter, Martial Archetype", "watch", "4 Fighter:", "4 Fighter (Quay Guard):", "subclass-changed", 4),
    Row("Classes, Ranger, Hit Points", "reed", "hp 7", "hp 11", "hp-above-die", 8),
    Row("Classes, Rogue, Hit Points", "reed", "", "", "hp-at-first-level", 1, edit=_first_hp),
    # -- breaks-rules: choices
    Row("Classes, Rogue, Proficiencies", "reed", "Investigation;", "Investigation, Deception;", "choice-too-many", 1),
    Row("Classes, Rogue, Proficiencies", "reed", "Investigation;", "Arcana;", "choice-not-on-list", 1),
    Row("Classes, Fighter, Fighting Style", "watch", "2 Fighter\n", "2 Fighter: style Archery\n", "choice-too-many", 2),
    Row("Classes, Ranger, Favored Enemy", "reed", "enemy Beasts", "enemies Beasts, Plants", "choice-too-many", 5),
    Row("Classes, Ranger, Favored Enemy", "reed", "enemy Beasts", "enemy Humanoids (kinds Gnolls, Orcs, Goblins)",
        "choice-too-many", 5),
    Row("Classes, Ranger, Favored Enemy", "reed", "enemy Beasts",
        "enemy Giants (languages Giant, Orc)", "skill-already-proficient", 5),
    Row("Classes, Ranger, Natural Explorer", "reed", "terrain Swamp", "terrains Swamp, Coast", "choice-too-many", 5),
    Row("Backgrounds, Customizing a Background", "reed", "languages Giant, Halfling",
        "languages Giant, Halfling; tool Herbalism Kit", "choice-too-many", None),
    Row("Races, Half-Elf", "reed", "language Goblin", "languages Goblin, Orc", "choice-too-many", None),
    Row("Classes, Bard, Proficiencies", "piper", "Lute, Flute, Drum", "Lute, Flute, Drum, Lyre", "choice-too-many",
        1),
    Row("Classes, Ranger, Fighting Style", "reed", "style Archery", "style Protection", "choice-not-on-list", 6),
    Row("Classes, Warlock, Eldritch Invocations", "hex", "invocation Eldritch Spear", "invocation Agonizing Blast",
        "choice-repeated", 5),
    Row("Classes, Warlock, Eldritch Invocations", "hex", "invocation Eldritch Spear", "invocation Thirsting Blade",
        "choice-requirement", 5),
    Row("Classes, Warlock, Eldritch Invocations", "hex", "invocation Eldritch Spear", "invocation Ascendant Step",
        "choice-requirement", 5),
    Row("Eldritch Invocations, Book of Ancient Secrets", "hex", "invocation Eldritch Spear",
        "invocation Book of Ancient Secrets (spells Alarm, Shield)", "choice-not-on-list", 5),
    Row("Eldritch Invocations, Book of Ancient Secrets", "hex", "invocation Eldritch Spear",
        "invocation Book of Ancient Secrets (spells Alarm, Identify, Find Familiar)", "spells-too-many", 5),
    Row("Eldritch Invocations, Book of Ancient Secrets", "hex", "boon Pact of the Tome (cantrips Light, Guidance, "
        "Vicious Mockery)\n4 Warlock: +2 Cha; cantrip Mage Hand; spell Misty Step\n5 Warlock: spell Counterspell; "
        "invocation Eldritch Spear", "boon Pact of the Chain\n4 Warlock: +2 Cha; cantrip Mage Hand; spell Misty Step\n"
        "5 Warlock: spell Counterspell; invocation Book of Ancient Secrets", "choice-requirement", 5),
    Row("Backgrounds, Proficiencies", "watch", "skills Athletics, Perception", "skills Athletics, Insight",
        "skill-already-proficient", 1),
    Row("Backgrounds, Proficiencies", "reed", "languages Giant, Halfling", "languages Giant, Goblin",
        "skill-already-proficient", None),
    Row("Classes, Rogue, Expertise", "reed", "expertise Perception, Stealth", "expertise Perception, Deception",
        "expertise-without-proficiency", 1),
    Row("Classes, Bard, Expertise", "piper", "expertise Acrobatics, Performance", "expertise Stealth, Performance",
        "expertise-twice", 10),
    Row("Classes, Bard, Expertise", "piper", "expertise Persuasion, Stealth", "expertise Persuasion, Lute",
        "choice-not-on-list", 3),
    Row("Feats", "watch", "3 Fighter (Champion)", "3 Fighter (Champion): feat Deep Lungs", "feat-misplaced", 3),
    Row("Feats, Grappler", "reed", "hp 7: +2 Wis;", "hp 7: feat Grappler;", "feat-requirement", 8),
    Row("Feats", "watch", "6 Fighter: +2 Con", "6 Fighter: feat Grappler", "feat-repeated", 6),
    # -- breaks-rules: spells
    Row("Classes, Bard, Spells Known", "piper", "2 Bard: spell Sleep", "2 Bard: spells Sleep, Bane",
        "spells-too-many", 2),
    Row("Classes, Bard, Cantrips", "piper", "Vicious Mockery, Light;", "Vicious Mockery, Light, Dancing Lights;",
        "cantrips-too-many", 1),
    Row("Classes, Wizard, Your Spellbook", "scribe", "Burning Hands, Thunderwave", "Burning Hands, Thunderwave, Jump",
        "book-too-many", 2),
    Row("Spell Lists", "reed", "Speak with Animals", "Bless", "spell-not-on-list", 6),
    Row("Spell Lists", "scribe", "copied Alarm", "copied Bless", "spell-not-on-list", 5),
    Row("Spell Lists", "reed", "for Longstrider", "for Bless", "spell-not-on-list", 8),
    Row("Races, High Elf", "scribe", "cantrip Light;", "cantrip Guidance;", "spell-not-on-list", None),
    Row("Classes, Bard, Spells Known", "piper", "spell Invisibility", "spell Bestow Curse", "spell-level-too-high", 3),
    Row("Multiclassing, Spells Known and Prepared", "reed", "spell Fog Cloud; prey",
        "spell Pass without Trace; prey", "spell-level-too-high", 7),
    Row("Classes, Bard, Magical Secrets", "piper", "secrets Fireball, Counterspell", "secrets Fireball, Blight",
        "spell-level-too-high", 6),
    Row("Classes, Wizard, Your Spellbook", "scribe", "copied Alarm", "copied Wish", "spell-level-too-high", 5),
    Row("Cantrips", "scribe", "cantrip Ray of Frost", "cantrip Jump", "spell-wrong-kind", 4),
    Row("Classes, Bard, Spells Known", "piper", "spell Hypnotic Pattern", "spell Suggestion", "spell-known-already", 5),
    Row("Classes, Ranger, Spellcasting", "reed", "terrain Swamp", "terrain Swamp; spell Goodberry",
        "spell-without-casting", 5),
    Row("Classes, Wizard, Your Spellbook", "piper", "2 Bard: spell Sleep", "2 Bard: spell Sleep; copied Bane",
        "copied-without-book", 2),
    Row("Classes, Wizard, Spellcasting", "scribe", "copied Alarm", "swap spell Sleep for Alarm", "swap-not-allowed", 5),
    Row("Classes, Bard, Spells Known", "piper", "swap Sleep for Heroism",
        "swap Sleep for Heroism; swap Thunderwave for Bane", "swap-too-many", 7),
    Row("Classes, Bard, Spells Known", "piper", "swap Sleep for Heroism", "swap spell Bane for Heroism",
        "swap-not-held", 7),
    Row("Classes, Bard, Spells Known", "piper", "for Heroism", "for Faerie Fire", "spell-known-already", 7),
    Row("Classes, Warlock, Eldritch Invocations", "hex", "for Mask of Many Faces", "for Thirsting Blade",
        "choice-requirement", 5),
    Row("Classes, Warlock, Eldritch Invocations", "hex", "for Mask of Many Faces", "for Agonizing Blast",
        "choice-repeated", 5),
    Row("Classes, Cleric, Preparing and Casting Spells", "shrine", "Sanctuary\n2", "Sanctuary, Shield of Faith\n2",
        "prepared-too-many", 1),
    Row("Classes, Wizard, Preparing and Casting Spells", "scribe", "Fireball, Fly\n1", "Fireball, Haste\n1",
        "prepared-not-available", None),
    Row("Classes, Cleric, Preparing and Casting Spells", "shrine", "Sanctuary\n2", "Aid\n2",
        "prepared-not-available", 1),
    Row("Spell Lists", "shrine", "Sanctuary\n2", "Sleep\n2", "prepared-not-available", 1),
    Row("Classes, Wizard, Preparing and Casting Spells", "scribe", "Fireball, Fly\n1", "Fireball, Web\n1",
        "prepared-twice", None),
    Row("Known and Prepared Spells", "piper", "2 Bard: spell Sleep", "2 Bard: spell Sleep; prepare Sleep",
        "prepare-not-used", 2),
    Row("Classes, Ranger, Spells Known", "reed", "for Longstrider", "for Longstrider; spell Jump",
        "spells-too-many", 8),
    Row("Classes, Wizard, Your Spellbook", "scribe", "copied Alarm", "copied Light", "spell-wrong-kind", 5),
    Row("Classes, Wizard, Spell Mastery", "scribe", "copied Alarm\n", f"copied Alarm\n{TO_18}: mastered Jump, Fly\n",
        "spell-level-too-high", 18),
    Row("Classes, Wizard, Spell Mastery", "scribe", "copied Alarm\n", f"copied Alarm\n{TO_18}: mastered Jump, Web\n",
        "choice-not-on-list", 18),
    Row("Classes, Wizard, Spell Mastery", "scribe", "copied Alarm\n",
        f"copied Alarm\n{TO_18}: mastered Shield, Sleep\n",
        "choice-not-on-list", 18),
    Row("Classes, Warlock, Mystic Arcanum", "hex", "of Many Faces\n", f"of Many Faces\n{TO_11}: arcanum Fly\n",
        "choice-not-on-list", 11),
    Row("Classes, Warlock, Mystic Arcanum", "hex", "of Many Faces\n", f"of Many Faces\n{TO_11}: arcanum Foresight\n",
        "spell-level-too-high", 11),
    Row("Classes, Bard, Spells Known", "piper", "for Heroism", "for Mage Hand", "spell-wrong-kind", 7),
    Row("Classes, Bard, Spells Known", "piper", "for Heroism", "for Hold Monster", "spell-level-too-high", 7),
    Row("Classes, Bard, Cantrips", "piper", "swap Sleep for Heroism", "swap Light for Mending", "swap-not-allowed", 7),
    Row("Known and Prepared Spells", "scribe", "Fireball, Fly\n1", "Fireball, Light\n1",
        "prepared-not-available", None),
    # -- breaks-rules: gear
    Row("Magic Items, Attunement", "watch", "2 Handaxe", "2 Handaxe, Ring of Protection (attuned), Cloak of Protection"
        " (attuned), Ring of Evasion (attuned), Ring of Regeneration (attuned)", "attunement-over-limit", 1),
    Row("Magic Items, Attunement", "watch", "Shield,", "Shield (attuned),", "attunement-not-needed", 1),
    Row(OURS, "watch", "2 Fighter\n", "2 Fighter: lose Rapier\n", "gear-not-held", 2),
    # -- breaks-table-rules
    Row(OURS, "reed", "", "", "table-rules", None, table="rules: srd-5.2.1"),
    Row(OURS, "reed", "", "", "table-folio", None, table="folios: []", edit=_with(folios=(TIDES,))),
    Row(OURS, "reed", "", "", "table-level", 7, table="levels: 1-6"),
    Row(OURS, "reed", "", "", "table-level", 8, table="levels: 9-12"),
    Row(OURS, "reed", "", "", "table-scores", None, table="scores: point buy"),
    Row(OURS, "scribe", "", "", "table-points", None, table="points: 20"),
    Row(OURS, "reed", "", "", "table-hit-points", 8, table="hit_points: fixed"),
    Row(OURS, "reed", "", "", "table-hit-points", 8, table="hit_points: rolled"),
    Row(OURS, "reed", "", "", "table-hit-points", 2, table="hit_points: maximum"),
    Row(OURS, "reed", "", "", "table-multiclassing", 5, table="multiclassing: no"),
    Row(OURS, "watch", "", "", "table-feats", 4, table="feats: no"),
    Row(OURS, "reed", "", "", "table-barred", 3, table="bar: [thief]"),
    Row(OURS, "reed", "", "", "table-barred", 7, table="bar: [Fog Cloud]"),
    Row(OURS, "reed", "", "", "table-barred", None, table="bar: [Half Elves, Half-Elf]"),
    Row(OURS, "watch", "Longsword,", "Longsword +1,", "table-magic-items", 1, table="magic_items: no"),
    Row(OURS, "watch", "2 Handaxe", "Ring of Regeneration (attuned)", "table-magic-items", 1,
        table="magic_items: {rarity: rare}"),
    Row(OURS, "watch", "", "", "table-gold", 1, table="gold: 10"),
    # -- needs-ruling
    Row(OURS, "reed", "", "", "missing-content", None, edit=_with(background=Origin(id="pearl-diver"))),
    Row(OURS, "reed", "", "", "missing-folio", None, edit=_with(folios=(FolioUse(id="lagoon"),))),
    Row(OURS, "reed", "", "", "too-much-content", None, edit=_with(background=Origin(id="wreck-hoard"))),
    Row(PRACTICE, "reed", "(standard array)", "(manual)", "scores-manual", None),
    Row(OURS, "reed", "(standard array)", "(rolled)", "roll-not-witnessed", None),
    Row(OURS, "reed", "(standard array)", "(rolled #3)", "roll-not-witnessed", None, rolls={}),
    Row(OURS, "watch", "hp 7 #31", "hp 7", "roll-not-witnessed", 5),
    Row(OURS, "reed", "2 Rogue\n", '2 Rogue: granted "harbour oath" feat Grappler\n', "granted-by-gm", 2),
    Row(OURS, "reed", "2 Rogue\n", '2 Rogue: granted "tide gift" +1 Str\n', "granted-by-gm", 2),
    Row(OURS, "reed", "2 Rogue\n", '2 Rogue: granted "tide gift" gain Longbow\n', "granted-by-gm", 2),
    Row("Magic Items", "watch", "Longsword,", "Longsword +1,", "magic-item", 1),
    Row("Magic Items, Dwarven Thrower", "watch", "2 Handaxe", "Dwarven Thrower (attuned)", "attunement-restricted", 1),
    Row("Languages", "reed", "language Goblin", "language Draconic", "exotic-language", None),
    Row("Classes, Druid, Proficiencies", "grove", "Leather Armor", "Scale Mail", "ruling", 1),
    # -- unfinished
    Row("Character Advancement", "reed", "", "", "no-levels", None, edit=_empty_line),
    Row("Using Ability Scores", "reed", "", "", "no-scores", None, edit=_with(scores=None)),
    Row("Races", "reed", "", "", "no-species", None, edit=_with(species=None)),
    Row("Races, Racial Traits, Subraces", "shrine", "Hill Dwarf", "Dwarf", "no-subspecies", None),
    Row("Backgrounds", "reed", "", "", "no-background", None, edit=_with(background=None)),
    Row(PRACTICE, "scribe", "Cha 10 (", "Cha 8 (", "points-left", None),
    Row("Classes, Rogue, Roguish Archetype", "reed", "3 Rogue (Thief)", "3 Rogue", "subclass-missing", 3),
    Row("Classes, Rogue, Ability Score Improvement", "reed", "4 Rogue: +1 Dex, +1 Wis", "4 Rogue: +1 Dex",
        "increase-missing", 4),
    Row("Classes, Ranger, Natural Explorer", "reed", "; terrain Swamp", "", "choice-open", 5),
    Row("Backgrounds, Customizing a Background", "reed", "languages Giant, Halfling", "language Giant",
        "choice-open", None),
    Row("Classes, Bard, Spells Known", "piper", "5 Bard: spell Hypnotic Pattern", "5 Bard", "spells-too-few", 5),
    Row("Classes, Wizard, Cantrips", "scribe", "cantrip Ray of Frost; ", "", "cantrips-too-few", 4),
    Row("Classes, Wizard, Your Spellbook", "scribe", "spells Fireball, Fly;", "spell Fireball;", "book-too-few", 5),
    # -- advice
    Row(PRACTICE, "reed", "(standard array)", "(final)", "scores-final", None),
    Row(OURS, "reed", "", "", "folio-changed", None, edit=_with(folios=(TIDES,))),
    Row("Equipment, Armor", "reed", "Leather Armor", "Chain Mail", "armor-not-proficient", 1),
    Row("Equipment, Armor, Heavy Armor", "reed", "Leather Armor", "Chain Mail", "armor-strength", 1),
    Row("Equipment, Armor", "reed", "Rapier,", "Rapier, Shield,", "shield-not-proficient", 1),
    Row("Equipment, Weapons, Weapon Proficiency", "reed", "Shortbow", "Longbow", "weapon-not-proficient", 1),
    Row("Equipment, Weapons, Two-Handed", "watch", "Longsword,", "Greatsword,", "shield-with-two-hands", 1),
    Row("Equipment, Weapons, Heavy", "grove", "Scimitar", "Longbow", "heavy-weapon-small", 1),
    Row("Magic Items, Attunement", "watch", "2 Handaxe", "Ring of Protection", "attunement-missing", 1),
    Row("Lifting and Carrying", "watch", "2 Handaxe", "200 Handaxe", "over-capacity", 1),
    Row("Variant: Encumbrance", "watch", "2 Handaxe", "12 Handaxe", "encumbered", 1, table="encumbrance: variant"),
    Row("Classes, Rogue, Equipment", "reed", "Rapier,", "Rapier, Greatsword,", "starting-gear", 1),
    Row("Classes, Cleric, Domain Spells", "shrine", "prepare Bane, Command, Detect Magic, Sanctuary\n2",
        "prepare Bless, Command, Detect Magic, Sanctuary\n2", "prepared-always", 1),
    Row("Backgrounds, Proficiencies", "scribe", "Background: Acolyte (languages Dwarvish, Giant)",
        "Background: Net Mender", "duplicate-proficiency", None),
    Row("Backgrounds, Proficiencies", "watch", "tool Smith's Tools; language Halfling", "tool Thieves' Tools;"
        " language Halfling", "duplicate-proficiency", 6,
        edit=lambda b: b.model_copy(update={"order": (*b.order[:5], "rogue"), "levels": {
            "fighter": {n: line for n, line in b.levels["fighter"].items() if n < 6}}})),
    Row("Classes, Cleric, Preparing and Casting Spells", "shrine", "Detect Magic, Sanctuary\n2", "Detect Magic\n2",
        "prepared-room", 1),
)  # fmt: skip
