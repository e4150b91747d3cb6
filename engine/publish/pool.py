"""Worker processes for heavy work: spawned, started at the first use, fed with plain data.

What runs there is imported there only, so that the process that serves people neither loads nor waits for it.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import signal
import traceback
from collections.abc import Callable
from contextlib import suppress
from contextvars import Context
from multiprocessing.connection import Connection
from typing import Any, Final, TypeVar

R = TypeVar("R")
TIMEOUT: Final = 20.0
_SPAWN: Final = multiprocessing.get_context("spawn")


class WorkFailed(Exception):
    """Work that raised in its process, or whose process ended; the text is its traceback."""


class Workers:
    """One or two worker processes. Work that takes too long costs its process its life, and a new one is started."""

    def __init__(self, size: int = 1) -> None:
        """size: processes at most. Nothing is started here."""
        self._free = asyncio.Semaphore(size)
        self._idle: list[_Worker] = []

    async def run(self, work: Callable[..., R], *args: Any, timeout: float = TIMEOUT) -> R:  # noqa: ASYNC109
        """Return what `work(*args)` returns in a worker process; the event loop is not held up.

        work: a function of a module, args: plain data. timeout: seconds, waiting for a free worker not counted.
        Raises: TimeoutError after that; WorkFailed if the work raised or its process ended.
        """
        async with self._free:
            worker = self._idle.pop() if self._idle else _Worker()
            try:
                good, result = await _beside(worker.ask, work, args, timeout)
            except BaseException:
                # Too late, ended, or nobody waits any more: what this process still does is of no use.
                await _beside(worker.kill)
                raise
            self._idle.append(worker)
        if not good:
            raise WorkFailed(result)
        answer: R = result
        return answer

    async def close(self) -> None:
        """End the idle processes; those at work end with their work or their time."""
        idle, self._idle = self._idle, []
        for worker in idle:
            await _beside(worker.kill)


async def _beside(function: Callable[..., R], *args: Any) -> R:
    """Run a blocking function in a thread and an empty context: it waits by real time, whatever clock is set."""
    return await asyncio.get_running_loop().run_in_executor(None, Context().run, function, *args)


class _Worker:
    """One process and the pipe to it. Its methods block and run in a thread."""

    def __init__(self) -> None:
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None

    def ask(self, work: Callable[..., Any], args: tuple[Any, ...], seconds: float) -> tuple[bool, Any]:
        """Return whether the work went well, and its result or traceback. Raises: TimeoutError, WorkFailed."""
        if self._pipe is None:
            self._pipe, other = _SPAWN.Pipe()
            self._process = _SPAWN.Process(target=_serve, args=(other,), daemon=True, name="buildmoot-worker")
            self._process.start()
            other.close()
        try:
            self._pipe.send((work, args))
            if not self._pipe.poll(seconds):
                raise TimeoutError(f"work took more than {seconds:g} seconds")
            answer: tuple[bool, Any] = self._pipe.recv()
        except (EOFError, OSError) as error:
            if isinstance(error, TimeoutError):
                raise
            raise WorkFailed("the worker process ended") from error
        return answer

    def kill(self) -> None:
        """End the process, whatever it does."""
        if self._process is not None:
            self._process.kill()
            self._process.join()
            self._process.close()
            self._process = None
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None


def _serve(pipe: Connection) -> None:
    """Do one piece of work after another until the other end is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who serves people decides when this ends
    with suppress(EOFError):
        while True:
            work, args = pipe.recv()
            try:
                result = (True, work(*args))
            except Exception:
                result = (False, traceback.format_exc())
            pipe.send(result)
