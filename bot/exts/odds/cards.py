"""Cards of odds: the answer first, what was counted and left out, then the figures, then a picture."""

from typing import Final

from bot.ui.card import Card, Picture, block
from bot.ui.escape import plain
from engine.odds.told import told
from engine.services.odds import OddsView

PICTURE_FILE: Final = "odds.png"


def odds_card(view: OddsView, alt: str = "", note: str = "") -> Card:
    """Return the card of an answer.

    alt: alternative text of its picture, which is attached as `PICTURE_FILE`; empty for none. note: why a picture that
    was asked for is not there.
    """
    words = told(view.answer)
    left = ", ".join(plain(text) for text in (words.left_out, *view.left_out) if text)
    return Card(
        plain(words.answer),
        plain(words.counted),
        (
            block(*(plain(line) for line in view.counted), f"Left out: {left}" if left else "", small=True),
            block(*(plain(line) for line in words.lines), plain(words.table)),
            block(note, small=True),
        ),
        pictures=(Picture(PICTURE_FILE, alt),) if alt else (),
    )
