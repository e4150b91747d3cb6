"""The browser page of the room: the simulator's preview of the channel, on this machine only."""

from contextlib import AsyncExitStack

from simcord.backend.errors import SetupError

from bot.room.world import World


async def open_page(world: World, stack: AsyncExitStack, port: int) -> str:
    """Open the page for as long as the stack lives; return the line that tells its address, or why it is off."""
    viewers = list(world.members.values())
    try:
        preview = await stack.enter_async_context(
            world.env.preview(world.channel, viewers=viewers, layout="channel", port=port)
        )
    except (SetupError, OSError) as error:
        return f"The browser page is off: {error}"
    return f"The same room in a browser, on this machine only: {preview.url}"
