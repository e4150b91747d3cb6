"""Write-ups: the frame of one, its numbers checked and put right."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/writeup` commands."""
    from bot.exts.writeup.commands import WriteupCommands

    bot.tree.add_command(WriteupCommands())
