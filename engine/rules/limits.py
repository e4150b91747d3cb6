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

# What is made of it.
MAX_ENTRIES: Final = 5000
MAX_GRANTS: Final = 150  # of one entry, everything inside it counted
MAX_LISTED: Final = 120  # ids in one list of a grant
MAX_BASES: Final = 5000  # items that enchantments of several bases make, in all
MAX_CELL: Final = 10_000  # number in a cell of a class table
MAX_NUMBER: Final = 1_000_000  # what a formula can come to, either way
MAX_COUNT: Final = 100  # picks that one choice can ask for
MAX_DICE: Final = 40  # dice of one roll written in a folio
MAX_SIDES: Final = 100

# Dice of one hit that a sheet counts; hits of the release have about a dozen.
MAX_HIT_DICE: Final = 60

# What one build can gather from all its folios: grants, and the ids in their lists. A whole hand-made build of the
# release with everything on has about 400.
MAX_GATHERED: Final = 4000
