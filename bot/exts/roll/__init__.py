"""Rolls: real dice, witnessed by the server, for scores and hit points that a build cites."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/roll` commands."""
    from bot.exts.roll.commands import RollCommands

    bot.tree.add_command(RollCommands())
