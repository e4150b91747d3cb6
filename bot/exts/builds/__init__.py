"""Builds: posting, reading, editing, comparing."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/build` commands and the buttons of build cards."""
    from bot.exts.builds.buttons import BUTTONS
    from bot.exts.builds.commands import BuildCommands

    bot.tree.add_command(BuildCommands())
    bot.add_dynamic_items(*BUTTONS)
