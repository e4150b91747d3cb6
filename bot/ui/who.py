"""Members in text: as the platform's mention, which pings nobody where mentions are not allowed."""


def who(member: int) -> str:
    """Return how a member is shown; an erased one has a negative id and no name."""
    return f"<@{member}>" if member > 0 else "a former member"
