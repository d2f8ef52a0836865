"""Text that a device, a file or a stranger chose, made harmless for one kind of output. The only place that does so."""

import unicodedata

_ACTS = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
"""Unicode categories that act on a terminal instead of being seen: controls, bidirectional and other format characters,
surrogates, private use, unassigned, line and paragraph separators."""


def terminal(text: str) -> str:
    """Every character that would act is shown as its code instead: ``<U+001B>``."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(f"<U+{ord(char):04X}>" if unicodedata.category(char) in _ACTS else char for char in text)
