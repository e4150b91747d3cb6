"""Work counted instead of timed: how many lines of the engine run, the same on every computer."""

import sys
from collections.abc import Callable
from types import FrameType
from typing import Any, TypeVar

T = TypeVar("T")


def lines_run(function: Callable[[], T], most: int | None = None) -> tuple[T, int]:
    """Return what a function returns, and how many lines of engine/ ran in it; each turn of a loop counts again.

    Raises: AssertionError as soon as more than `most` have run, so that a test of work without end ends.
    """
    count = 0

    def line(frame: FrameType, event: str, _: Any) -> Any:
        nonlocal count
        if event == "line":
            count += 1
            if most is not None and count > most:
                raise AssertionError(
                    f"more than {most:,} lines, and no end: {frame.f_code.co_filename}:{frame.f_lineno}"
                )
        return line

    def call(frame: FrameType, event: str, arg: Any) -> Any:
        return line if "/engine/" in frame.f_code.co_filename and "/tests/" not in frame.f_code.co_filename else None

    before = sys.gettrace()
    sys.settrace(call)
    try:
        found = function()
    finally:
        sys.settrace(before)
    return found, count
