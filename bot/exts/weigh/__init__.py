"""Weighing: where a build is strong and weak, against whom, and how its numbers grow."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/weigh` commands."""
    from bot.exts.weigh.commands import WeighCommands

    bot.tree.add_command(WeighCommands())
