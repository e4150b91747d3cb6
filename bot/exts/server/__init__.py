"""What a server decides for all of it: how proposals are decided, where cards go; and notices, for each member."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/server` and `/notices` commands."""
    from bot.exts.server.commands import NoticeCommands, ServerCommands

    bot.tree.add_command(ServerCommands())
    bot.tree.add_command(NoticeCommands())
