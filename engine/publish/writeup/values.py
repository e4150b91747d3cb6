"""The number inside a mark's text: found, read, compared, and written anew in the author's own manner."""

import re
from dataclasses import dataclass
from typing import Final

from engine.publish.words import is_bonus
from engine.rules.words import UNLIMITED
from engine.sheet.number import Number

_MINUS: Final = "-−–"
_DICE: Final = re.compile(r"\d*d\d+(?:\s*\\?[+\-−–]\s*\d+)?(?:\s*\\?[+\-−–]\s*\d*d\d+)*", re.I)
_NUMBER: Final = re.compile(r"(?P<sign>\\?[+\-−–])?\s?(?P<digits>\d+(?:[.,]\d+)?)(?P<ordinal>st|nd|rd|th)?")
_OPEN: Final = "?"


@dataclass(frozen=True, slots=True)
class Written:
    """The part of a mark's text that is its number.

    start, end: its place in the text. text: as written. value: what it says, None for dice, words and `?`.
    """

    start: int
    end: int
    text: str
    value: float | None = None
    dice: bool = False
    signed: bool = False
    ordinal: bool = False


def written(text: str) -> Written:
    """Return the number in a mark's text: the one number or dice term in it, else all of the text."""
    found = [
        Written(match.start(), match.end(), match[0], dice=True)
        for match in _DICE.finditer(text)
        if not text[: match.start()][-1:].isalnum()
    ]
    if not found:
        for match in _NUMBER.finditer(text):
            sign = (match["sign"] or "").removeprefix("\\")
            value = float(match["digits"].replace(",", "."))
            found.append(
                Written(
                    match.start(),
                    match.end(),
                    match[0],
                    -value if sign and sign in _MINUS else value,
                    signed=bool(sign),
                    ordinal=bool(match["ordinal"]),
                )
            )
    if len(found) == 1:
        return found[0]
    if not found and text.count(_OPEN) == 1:
        at = text.index(_OPEN)
        return Written(at, at + 1, _OPEN)
    return Written(0, len(text), text)


def is_right(part: Written, number: Number) -> bool:
    """Tell whether what is written is the number: its value, or for a number with dice the dice."""
    if part.dice:
        dice = number.dice if number.dice is not None else number.value
        return isinstance(dice, str) and _plain(part.text) == _plain(dice)
    if isinstance(number.value, str):
        return _plain(part.text) == _plain(number.value) or (number.value == UNLIMITED and _plain(part.text) == "∞")
    return part.value is not None and abs(part.value - number.value) < 1e-9


def right(part: Written, name: str, number: Number, *, after_plus: bool = False) -> str:
    """Return the number as it should stand there: dice for dice, else its value, signed if it is a bonus.

    A bonus that was written without a sign stays so unless it is negative. after_plus: a plus stands before the mark.
    """
    if isinstance(number.value, str):
        return number.value
    if part.dice and number.dice is not None:
        return number.dice
    if part.ordinal and isinstance(number.value, int):
        return _ordinal(number.value)
    plain = part.value is not None and not part.signed
    if is_bonus(name) and not plain and not (after_plus and number.value >= 0):
        return f"{number.value:+g}"
    return f"{number.value:g}"


def _ordinal(value: int) -> str:
    ending = "th" if value % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(value % 10, "th")
    return f"{value}{ending}"


def _plain(text: str) -> str:
    text = re.sub(r"[\s\\*_`]", "", text).casefold()
    text = text.replace("−", "-").replace("–", "-")
    return re.sub(r"(?<!\d)d(?=\d)", "1d", text)
