"""Weighing: where a build is strong and weak, against whom, and how its numbers grow."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/weigh` commands and the button that draws a curve."""
    from bot.exts.weigh.buttons import BUTTONS
    from bot.exts.weigh.commands import WeighCommands

    bot.tree.add_command(WeighCommands())
    bot.add_dynamic_items(*BUTTONS)
