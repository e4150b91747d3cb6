"""What an amount of a sheet is worth when two are compared: numbers, means of dice, `unlimited`."""

import math
import re
from typing import Final

from engine.rules.words import UNLIMITED
from engine.sheet.number import Amount

_DICE: Final = re.compile(r"(\d+)d(\d+)(?:\s*([+-])\s*(\d+))?")


def worth(amount: Amount | None) -> float | None:
    """Return an amount as one comparable number: the mean of dice such as `2d6+3`, infinity for `unlimited`.

    None for what is absent and for text that is neither.
    """
    if amount is None or not isinstance(amount, str):
        return amount
    if amount == UNLIMITED:
        return math.inf
    match = _DICE.fullmatch(amount)
    if match is None:
        return None
    mean = int(match[1]) * (int(match[2]) + 1) / 2
    extra = int(match[4] or 0)
    return mean - extra if match[3] == "-" else mean + extra
