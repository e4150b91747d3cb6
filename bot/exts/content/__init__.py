"""Content: the folios that a server brings, who may bring them, where they are on, and builds that move along."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/content` commands and the buttons that move builds."""
    from bot.exts.content.buttons import BUTTONS
    from bot.exts.content.commands import ContentCommands

    bot.tree.add_command(ContentCommands())
    bot.add_dynamic_items(*BUTTONS)
