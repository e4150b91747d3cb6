"""What the bot sends, held against the platform's OpenAPI document where that is at hand."""

import json
import os
import re
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator
from simcord.types import HttpLogEntry

DOCUMENT = Path(os.environ.get("BUILDMOOT_REFERENCE", "../shared/reference")) / "discord-openapi.json"


@lru_cache(maxsize=1)
def document() -> dict[str, Any] | None:
    """Return the OpenAPI document, or None where it is not at hand."""
    if not DOCUMENT.is_file():
        return None
    loaded: dict[str, Any] = json.loads(DOCUMENT.read_text(encoding="utf-8"))
    return loaded


@lru_cache(maxsize=1)
def _routes() -> list[tuple[re.Pattern[str], str]]:
    found = document()
    assert found is not None
    # A path with fewer placeholders is the more special one: `@original` before `{message_id}`.
    paths = sorted(found["paths"], key=lambda p: p.count("{"))
    return [
        (re.compile("^" + re.sub(r"\{[^}]+\}", "[^/]+", re.escape(p).replace(r"\{", "{").replace(r"\}", "}")) + "$"), p)
        for p in paths
    ]


def complaints(requests: list[HttpLogEntry]) -> list[str]:
    """Return what the document has against the JSON bodies of requests; empty also where there is no document."""
    if document() is None:
        return []
    out: list[str] = []
    for request in requests:
        if request.json is not None:
            out += _against(request.method, request.path.split("?")[0], json.dumps(_as_documented(request.json)))
    return out


@cache
def _against(method: str, address: str, body: str) -> tuple[str, ...]:
    """Return what the document has against one body; every start of the bot sends the same commands."""
    found = document()
    assert found is not None
    path = next((p for pattern, p in _routes() if pattern.match(address)), None)
    if path is None:
        return (f"{method} {address}: no such route",)
    operation = found["paths"][path].get(method.lower())
    if operation is None:
        return (f"{method} {address}: no such method",)
    schema = operation["requestBody"]["content"]["application/json"]["schema"]
    validator = Draft202012Validator({**schema, "components": found["components"]})
    return tuple(f"{method} {path}: {_deepest(error)}" for error in validator.iter_errors(json.loads(body)))


def _as_documented(body: Any) -> Any:
    """Return a body with the numbers of new attachments, and of members to mention, as text.

    The library sends them as whole numbers, which the platform takes; the document describes every id as a string.
    """
    if isinstance(body, list):
        return [_as_documented(each) for each in body]
    if not isinstance(body, dict):
        return body
    copy = {key: _as_documented(value) for key, value in body.items()}
    for attachment in copy.get("attachments") or []:
        if isinstance(attachment.get("id"), int):
            attachment["id"] = str(attachment["id"])
    if "channel_types" in copy:
        # 16, media channels, is in the platform's table of channel types and missing from the document's list of them.
        copy["channel_types"] = [kind for kind in copy["channel_types"] if kind != 16]
    mentions = copy.get("allowed_mentions")
    if isinstance(mentions, dict) and "users" in mentions:
        mentions["users"] = [str(id_) for id_ in mentions["users"]]
    return copy


def _deepest(error: Any) -> str:
    while error.context:
        # Of the alternatives of a union, the one that got furthest is the one that was meant.
        branches: dict[Any, int] = {}
        for inner in error.context:
            branches[inner.schema_path[0]] = branches.get(inner.schema_path[0], 0) + 1
        meant = min(branches, key=lambda branch: branches[branch])
        error = max((e for e in error.context if e.schema_path[0] == meant), key=lambda e: len(e.absolute_path))
    return f"{'/'.join(map(str, error.absolute_path))}: {error.message[:200]}"
