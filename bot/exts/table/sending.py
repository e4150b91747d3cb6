"""What happens to what members send about tables: stored, then shown, drawn anew and told."""

from typing import TYPE_CHECKING, Any

import discord

from bot.exts.table import cards
from bot.exts.table.asking import manages
from bot.ui.answer import answer, refuse, show, text_file
from bot.ui.card import NO_MENTIONS
from bot.ui.escape import plain
from engine.audit.table import MAX_BYTES
from engine.problem import Refused
from engine.services.approvals import ReturnBuild, WaiveFinding, return_build, waive_finding
from engine.services.cards import CardsOf, cards_of
from engine.services.table_views import RulesErrors, SubmissionView, TableView
from engine.services.tables import SetTableRules, set_table_rules

if TYPE_CHECKING:
    from bot.client import Bot

RULES_FILE = "table-rules.yaml"


async def read_rules(interaction: discord.Interaction[Any], file: discord.Attachment) -> str | None:
    """Return the text of an attached rules file, or None after telling the member what is wrong with it."""
    if file.size > MAX_BYTES:
        sentence = f"That file has {file.size // 1024} KB; the rules of a table may have {MAX_BYTES // 1024}."
    else:
        data = await file.read()
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = "\x00"
        if "\x00" not in text:
            return text.replace("\r\n", "\n")
        sentence = "That file is no plain text; save the rules as YAML (UTF-8) and attach that."
    await answer(interaction, sentence)
    return None


async def send_rules(interaction: "discord.Interaction[Bot]", table: int | str, text: str) -> None:
    """Set the rules of a table and show them, or give the text back with its errors and a way to mend them."""
    from bot.exts.builds.buttons import AgainButton
    from bot.exts.proposals.posting import redraw_all

    assert interaction.guild_id is not None
    command = SetTableRules(
        server=interaction.guild_id,
        member=interaction.user.id,
        table=table,
        text=text,
        manager=manages(interaction),
        at=interaction.created_at,
    )
    result = await interaction.client.call(set_table_rules, command)
    if isinstance(result, Refused):
        await refuse(interaction, result)
    elif isinstance(result, RulesErrors):
        card = cards.errors_card(result, RULES_FILE).with_rows([AgainButton(result.draft)])
        await show(interaction, card, private=True, files=[text_file(RULES_FILE, result.text)])
    else:
        await show_rules(interaction, result)
        await redraw_all(interaction.client, interaction.guild_id, result.touched)


async def show_rules(interaction: "discord.Interaction[Bot]", view: TableView) -> None:
    """Answer privately with the rules in force, the YAML as a file, and the button to change them."""
    from bot.exts.table.buttons import ChangeRulesButton

    name = RULES_FILE if view.text.strip() else None
    files = [text_file(RULES_FILE, view.text)] if name else []
    card = cards.rules_card(view, name).with_rows([ChangeRulesButton(view.number)])
    await show(interaction, card, private=True, files=files)


async def return_to_author(interaction: "discord.Interaction[Bot]", submission: int, remarks: str) -> None:
    """Return a build with remarks."""
    assert interaction.guild_id is not None
    command = ReturnBuild(
        server=interaction.guild_id,
        member=interaction.user.id,
        submission=submission,
        remarks=remarks,
        at=interaction.created_at,
    )
    result = await interaction.client.call(return_build, command)
    await _decided(interaction, result, "{} is returned to its author with your remarks.")


async def waive(interaction: "discord.Interaction[Bot]", submission: int, finding: str, reason: str) -> None:
    """Waive a finding."""
    assert interaction.guild_id is not None
    command = WaiveFinding(
        server=interaction.guild_id,
        member=interaction.user.id,
        submission=submission,
        finding=finding,
        reason=reason,
        at=interaction.created_at,
    )
    result = await interaction.client.call(waive_finding, command)
    await _decided(interaction, result, "The finding about {} is waived; your reason stands with the approval.")


async def _decided(interaction: "discord.Interaction[Bot]", result: SubmissionView | Refused, sentence: str) -> None:
    if isinstance(result, Refused):
        await refuse(interaction, result)
        return
    await interaction.response.defer(ephemeral=True, thinking=True)
    await after(interaction, result)
    name = plain(result.shown.view.name)
    await interaction.followup.send(sentence.format(name), ephemeral=True, allowed_mentions=NO_MENTIONS)


async def after(interaction: "discord.Interaction[Bot]", view: SubmissionView, but: int | None = None) -> None:
    """Draw the cards of a submission anew, but for a message drawn already, and tell whom it concerns."""
    from bot.exts.proposals.notices import tell
    from bot.exts.proposals.posting import redraw_all, redraw_others

    assert interaction.guild_id is not None
    bot, server = interaction.client, interaction.guild_id
    if but is None:
        await redraw_all(bot, server, [view.number])
    else:
        await redraw_others(bot, server, view.number, but)
    await tell(bot, server, view.notices, interaction)


async def post_submission(interaction: "discord.Interaction[Bot]", view: SubmissionView) -> None:
    """Put the card of a submission where its table wants it; one that stands there already is drawn anew.

    The first answer of the interaction: the card itself where it goes into this channel, else where it went.
    """
    from bot.exts.proposals.notices import tell
    from bot.exts.proposals.posting import post_card, redraw_all

    assert interaction.guild_id is not None
    bot, server = interaction.client, interaction.guild_id
    await interaction.response.defer(ephemeral=True, thinking=True)
    await redraw_all(bot, server, [view.number])
    places = await bot.call(cards_of, CardsOf(server=server, subject=view.number))
    if not places:
        channel = view.channel if view.channel is not None else interaction.channel_id
        assert channel is not None
        try:
            posted = await post_card(bot, server, channel, view.number)
        except discord.Forbidden:
            posted = None
        places = [posted] if posted is not None else []
    if places:
        await tell(bot, server, view.notices, interaction)
        where = f"its card stands in <#{places[-1].channel}>"
    else:
        where = (
            f"I may not post its card in <#{view.channel or interaction.channel_id}>; somebody who manages that "
            "channel can switch on View Channel and Send Messages there, then `/table review` posts it"
        )
    await interaction.followup.send(
        f"{plain(view.shown.view.name)} is before the GM of {plain(view.table_name)}; {where}.",
        ephemeral=True,
        allowed_mentions=NO_MENTIONS,
    )
