"""Goals: added to a build, taken off, and how it stands with them."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/goal` commands."""
    from bot.exts.goals.commands import GoalCommands

    bot.tree.add_command(GoalCommands())
