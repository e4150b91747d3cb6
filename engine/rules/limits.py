"""What a folio may at most hold. Folios are written by anybody, so nothing in them may cost without end."""

from typing import Final

# The text.
MAX_BYTES: Final = 8 * 1024 * 1024  # all files together
MAX_FILES: Final = 1000
MAX_DEPTH: Final = 24  # of blocks inside blocks
MAX_NODES: Final = 400_000  # keys, values and lists of one file, those that an alias repeats counted again
MAX_ALIASES: Final = 1000
MAX_SCALAR: Final = 4000  # characters of one value
MAX_DIGITS: Final = 9  # of one number
MAX_PROBLEMS: Final = 200  # told at once; more are counted
MAX_COUNTED: Final = 1000  # of those; then nothing more is looked at

# What is made of it.
MAX_ENTRIES: Final = 5000
MAX_ENTRY: Final = 20_000  # values of one entry, everything inside it counted; the largest of the release has 630
MAX_OPENED: Final = 100_000  # ways from one option or feat to others that its choices open, in all
MAX_GRANTS: Final = 150  # of one entry, everything inside it counted
MAX_ALL_GRANTS: Final = 6000  # of a folio; the release has about 1,000
MAX_LISTED: Final = 120  # ids in one list of a grant
MAX_BASES: Final = 5000  # items that enchantments of several bases make, in all
MAX_CELL: Final = 10_000  # number in a cell of a class table
MAX_NUMBER: Final = 1_000_000  # what a formula can come to, either way
MAX_COUNT: Final = 100  # picks that one choice can ask for
MAX_DICE: Final = 40  # dice of one roll written in a folio
MAX_SIDES: Final = 100

# Dice of one hit that a sheet counts; hits of the release have about a dozen.
MAX_HIT_DICE: Final = 60

# Features of one entry, options of one list, and options of a folio that offer themselves to choices of others.
MAX_FEATURES: Final = 120
MAX_OPTIONS: Final = 300
MAX_OFFERED: Final = 300

# What one build can gather from all its folios: grants, and the ids in their lists. A whole hand-made build of the
# release with everything on has about 400.
MAX_GATHERED: Final = 1200
# Grants that cost more than others count for so many: an attack that is looked at by every bonus to attacks, a way of
# casting that opens choices at every level, a bonus that every attack looks at.
DEAR: Final = {
    "natural-weapon": 40,
    "spellcasting": 20,
    "attack-bonus": 3,
    "damage-bonus": 3,
    "damage-reroll": 3,
    "extra-damage": 3,
    "weapon-ability": 3,
    "weapon-die": 3,
}
# A formula counts for one grant more with each so many of its words, numbers and signs.
FORMULA_PARTS: Final = 8
# Different weapons among one build's gear whose attacks are worked out.
MAX_WEAPONS: Final = 40
