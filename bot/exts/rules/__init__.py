"""Rules: facts of what the release holds, looked up by name."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/rules` commands."""
    from bot.exts.rules.commands import RulesCommands

    bot.tree.add_command(RulesCommands())
