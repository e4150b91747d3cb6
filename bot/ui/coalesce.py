"""Work on one thing at a time: asked for again while it runs, it runs once more, however often it was asked for."""

from collections.abc import Awaitable, Callable, Hashable


class Coalescer:
    """Runs steps by key. Who asks while a step of the same key runs does not wait: the running one does it over."""

    def __init__(self) -> None:
        self._again: dict[Hashable, bool] = {}

    async def run(self, key: Hashable, step: Callable[[], Awaitable[None]]) -> None:
        """Run a step, or leave it to whoever runs one of this key now. Raises: what the step raises."""
        if key in self._again:
            self._again[key] = True
            return
        self._again[key] = True
        try:
            while self._again[key]:
                self._again[key] = False
                await step()
        finally:
            del self._again[key]
