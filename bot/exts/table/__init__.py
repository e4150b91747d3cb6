"""Tables: who plays, by which rules, at which level; builds before the GM; the roster."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/table` commands and the buttons of tables and submissions."""
    from bot.exts.table.buttons import BUTTONS
    from bot.exts.table.commands import TableCommands

    bot.tree.add_command(TableCommands())
    bot.add_dynamic_items(*BUTTONS)
