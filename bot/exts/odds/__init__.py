"""Odds: exact chances for what a table asks."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/odds` commands."""
    from bot.exts.odds.commands import OddsCommands

    bot.tree.add_command(OddsCommands())
