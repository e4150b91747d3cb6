"""Bytes of a write-up to text, nothing lost: a byte-order mark and the kind of line ends stay in the text."""

from typing import Final

from engine.problem import Refused

LONGEST: Final = 1_000_000


def decoded(data: bytes) -> str | Refused:
    """Return the text of a write-up; encoded as UTF-8 again it gives the same bytes.

    Refused: "text-too-long" above a million bytes, "not-text" for another encoding, naming the line.
    """
    if len(data) > LONGEST:
        return Refused(
            "text-too-long",
            f"this write-up has {len(data) / 1_000_000:.1f} MB; at most {LONGEST // 1_000_000} MB can be checked,"
            " so split it by levels or take pictures out of it",
        )
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        return Refused(
            "not-text", f"line {line} is no UTF-8 text; save the write-up as plain text in UTF-8 and try again"
        )
    if "\x00" in text:
        line = text.count("\n", 0, text.index("\x00")) + 1
        return Refused("not-text", f"line {line} holds a zero byte, so this is no plain text in UTF-8; save it as such")
    return text
