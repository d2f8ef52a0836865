"""The rules, one file a theme. A new rule is one function in one of them; importing this package registers them all."""

from netcheck.rules import address, capability, condition, identity, media, queue, services, supplies

__all__ = ["address", "capability", "condition", "identity", "media", "queue", "services", "supplies"]
