"""Help: the first steps, whose ruling stands, what is owed to the rules."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add `/help`."""
    from bot.exts.help.commands import help_command

    bot.tree.add_command(help_command)
