"""The rules, one file a theme. A new rule is one function in one of them; importing this package registers them all."""

from netcheck.rules import (
    address,
    agreement,
    announced,
    capability,
    channels,
    condition,
    identity,
    jobs,
    link,
    media,
    queue,
    scope,
    security,
    services,
    supplies,
)

__all__ = [
    "address",
    "agreement",
    "announced",
    "capability",
    "channels",
    "condition",
    "identity",
    "jobs",
    "link",
    "media",
    "queue",
    "scope",
    "security",
    "services",
    "supplies",
]
