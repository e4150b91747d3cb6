"""A card: plain text in blocks and rows of buttons, turned into the platform's layout components.

A card always keeps its title, first line, kept blocks and buttons. The other blocks are cut from the end, line by
line, until it fits the platform's 4,000 characters, and the last of them says how many lines were left out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import discord
from discord import ui

MAX_TEXT: Final = 3900  # of the platform's 4,000 in a message; the rest is room for "and N more"
MAX_ROW: Final = 5


@dataclass(frozen=True, slots=True)
class Block:
    """Lines that belong together. keep: never cut. small: set in the platform's small print."""

    lines: tuple[str, ...]
    keep: bool = False
    small: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture of the card: file name of its attachment and the text that says its message."""

    filename: str
    alt: str


@dataclass(frozen=True, slots=True)
class Card:
    """What a member reads. first: the answer, right under the title. rows: buttons, at most five a row."""

    title: str
    first: str = ""
    blocks: tuple[Block, ...] = ()
    rows: tuple[tuple[ui.Item[Any], ...], ...] = ()
    pictures: tuple[Picture, ...] = ()
    accent: int | None = None
    files: tuple[str, ...] = field(default=())

    def with_rows(self, *rows: Sequence[ui.Item[Any]]) -> "Card":
        """Return the same card with other buttons."""
        return replace(self, rows=tuple(tuple(row) for row in rows if row))


def block(*lines: str, keep: bool = False, small: bool = False) -> Block:
    """Return a block of the lines that are not empty."""
    return Block(tuple(line for line in lines if line), keep=keep, small=small)


def fitted(card: Card) -> list[str]:
    """Return the texts of the card's blocks, title first, cut so that all of them fit the platform's limit."""
    head = f"### {card.title}\n{card.first}" if card.first else f"### {card.title}"
    if len(head) > MAX_TEXT:
        head = head[: MAX_TEXT - 1] + "…"
    room = MAX_TEXT - len(head) - sum(len(_text(b)) for b in card.blocks if b.keep)
    texts: list[str] = []
    left_out = 0
    for each in card.blocks:
        if each.keep:
            texts.append(_text(each)[:MAX_TEXT])
            continue
        shown: list[str] = []
        for line in each.lines:
            cost = len(line) + 4
            if left_out or cost > room:
                left_out += 1
                continue
            room -= cost
            shown.append(line)
        if shown:
            texts.append(_text(replace(each, lines=tuple(shown))))
        if left_out and not any("more" in t and t.startswith("-# and ") for t in texts):
            texts.append("-# and 0 more")
    counted = [f"-# and {left_out} more" if t == "-# and 0 more" else t for t in texts]
    return [head, *(t for t in counted if t)]


def _text(each: Block) -> str:
    if each.small:
        return "\n".join(f"-# {line}" for line in each.lines)
    return "\n".join(each.lines)


class CardView(ui.LayoutView):
    """A card as a message. It never times out; its buttons carry their whole state in their ids."""

    def __init__(self, card: Card) -> None:
        super().__init__(timeout=None)
        children: list[ui.Item[Any]] = []
        for index, text in enumerate(fitted(card)):
            if index:
                children.append(ui.Separator(visible=index == 1))
            children.append(ui.TextDisplay(text))
        for picture in card.pictures:
            gallery: ui.MediaGallery[Any] = ui.MediaGallery()
            gallery.add_item(media=f"attachment://{picture.filename}", description=picture.alt[:1024])
            children.append(gallery)
        children.extend(ui.File(f"attachment://{name}") for name in card.files)
        for row in rows_of(card.rows):
            children.append(ui.ActionRow(*row))
        self.add_item(ui.Container(*children, accent_colour=card.accent))


def rows_of(rows: Iterable[Sequence[ui.Item[Any]]]) -> list[Sequence[ui.Item[Any]]]:
    """Return the rows with none longer than the platform's five buttons."""
    return [row[i : i + MAX_ROW] for row in rows for i in range(0, len(row), MAX_ROW)]


NO_MENTIONS: Final = discord.AllowedMentions.none()
