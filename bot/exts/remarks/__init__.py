"""Remarks on record: made, answered, changed, taken away, settled."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/remark` commands."""
    from bot.exts.remarks.commands import RemarkCommands

    bot.tree.add_command(RemarkCommands())
