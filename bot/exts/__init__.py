"""Command areas, one package each: commands, buttons, cards, complete. AREAS lists them in the order of `/help`."""

from typing import TYPE_CHECKING, Final, Protocol

from bot.exts import (
    builds,
    content,
    goals,
    help,
    odds,
    privacy,
    proposals,
    remarks,
    roll,
    rules,
    server,
    table,
    weigh,
    writeup,
)

if TYPE_CHECKING:
    from bot.client import Bot


class Area(Protocol):
    """A command area: adds its commands to the tree and its buttons to the client."""

    def set_up(self, bot: "Bot") -> None:
        """Register everything the area has."""
        ...


AREAS: Final[tuple[Area, ...]] = (
    builds,
    goals,
    weigh,
    writeup,
    proposals,
    remarks,
    odds,
    roll,
    rules,
    content,
    table,
    server,
    privacy,
    help,
)
