"""Answering: publicly with a card, or privately with a sentence; a failure becomes a reference, never a silence."""

import io
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import discord

from bot.log import log_fault
from bot.ui.card import NO_MENTIONS, Card, CardView, block
from bot.ui.escape import paragraph
from engine.problem import Refused

FAULT = "Something went wrong on our side and nothing was changed. Please try again; if it stays, report reference {}."


def text_file(name: str, text: str) -> discord.File:
    """Return a text as an attachment."""
    return discord.File(io.BytesIO(text.encode()), filename=name)


async def answer(interaction: discord.Interaction[Any], sentence: str) -> None:
    """Answer one member privately with a sentence, whatever was answered before."""
    if interaction.response.is_done():
        await interaction.followup.send(sentence, ephemeral=True, allowed_mentions=NO_MENTIONS)
    else:
        await interaction.response.send_message(sentence, ephemeral=True, allowed_mentions=NO_MENTIONS)


async def refuse(interaction: discord.Interaction[Any], refused: Refused) -> None:
    """Tell a member privately why not; all of it as text, since the sentence may quote what somebody typed."""
    await answer(interaction, paragraph(refused.sentence))


async def show(
    interaction: discord.Interaction[Any],
    card: Card,
    *,
    private: bool = False,
    files: Sequence[discord.File] = (),
) -> None:
    """Answer with a card; after a deferral, in its place. Where the bot may attach nothing, the card says so."""
    if files and lacks_attaching(interaction):
        card, files = without_files(card), ()
    view = CardView(card)
    if interaction.response.is_done():
        await interaction.edit_original_response(view=view, attachments=list(files), allowed_mentions=NO_MENTIONS)
        return
    await interaction.response.send_message(
        view=view, ephemeral=private, files=list(files), allowed_mentions=NO_MENTIONS
    )


def lacks_attaching(interaction: discord.Interaction[Any]) -> bool:
    """Return whether the bot may not attach files where an interaction comes from."""
    return interaction.guild_id is not None and not interaction.app_permissions.attach_files


def without_files(card: Card) -> Card:
    """Return a card without its files and pictures, with what it tells of them in words, and what to switch on."""
    note = (
        "What belongs here as a file is left out: I lack Attach Files in this channel. Somebody who manages that "
        "channel can switch it on under Edit Channel, Permissions."
    )
    told = block(*(picture.alt for picture in card.pictures))
    return replace(card, blocks=(*card.blocks, told, block(note, keep=True)), files=(), pictures=())


async def redraw(interaction: discord.Interaction[Any], card: Card, *, files: Sequence[discord.File] = ()) -> None:
    """Put a new card in the place of the one whose button was pressed. Files: as in `show`."""
    if files and lacks_attaching(interaction):
        card, files = without_files(card), ()
    view = CardView(card)
    if interaction.response.is_done():
        await interaction.edit_original_response(view=view, attachments=list(files), allowed_mentions=NO_MENTIONS)
        return
    await interaction.response.edit_message(view=view, attachments=list(files), allowed_mentions=NO_MENTIONS)


async def failed(interaction: discord.Interaction[Any], error: BaseException) -> None:
    """Log an unexpected error and give the member its reference.

    A deferred public answer is replaced by the sentence; otherwise the member alone is told.
    """
    sentence = FAULT.format(log_fault(error))
    try:
        if interaction.response.is_done() and interaction.type is discord.InteractionType.application_command:
            await interaction.edit_original_response(
                view=CardView(Card("That did not work", sentence)), attachments=[], allowed_mentions=NO_MENTIONS
            )
        else:
            await answer(interaction, sentence)
    except discord.HTTPException as second:
        log_fault(second)
