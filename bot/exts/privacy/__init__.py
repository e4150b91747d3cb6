"""Privacy: what is stored about a member, how to be erased, and what holds for everybody."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/privacy` commands and the button that confirms an erase."""
    from bot.exts.privacy.buttons import BUTTONS
    from bot.exts.privacy.commands import PrivacyCommands

    bot.tree.add_command(PrivacyCommands())
    bot.add_dynamic_items(*BUTTONS)
