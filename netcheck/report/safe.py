"""Text that a device, a file or a stranger chose, made harmless for one kind of output. The only place that does so."""

import json
import re
import unicodedata
from html import escape
from typing import Any

_ACTS = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
"""Unicode categories that act on a terminal instead of being seen: controls, bidirectional and other format characters,
surrogates, private use, unassigned, line and paragraph separators."""


def terminal(text: str) -> str:
    """Every character that would act is shown as its code instead: ``<U+001B>``."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(f"<U+{ord(char):04X}>" if unicodedata.category(char) in _ACTS else char for char in text)


def html(text: str) -> str:
    """Text for an element's content or a quoted attribute: no markup of its own, and nothing in it that acts."""
    return escape(terminal(text), quote=True)


def script_json(value: Any) -> str:
    """JSON for inside a ``script`` element, in ASCII. No ``<`` is left in it, so that it can neither end the element
    nor open a comment in it (HTML, "Restrictions for contents of script elements")."""
    plain = json.dumps(value, ensure_ascii=True, separators=(",", ":"))
    return plain.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


_FORMULA = re.compile('(^|[;\n])(?=[\\s"]*[=+\\-@\uff1d\uff0b\uff0d\uff20])')
"""Where a spreadsheet would begin to calculate: at the start of a cell, or of what is one where the separator is a
semicolon. The wide forms count too: some spreadsheets take them for the narrow ones."""

_CONVERTED = re.compile(
    r"0[0-9]+|[0-9]{16,}|[0-9]+[.,][0-9]+|[0-9]+[eE][0-9]+|[0-9]{1,4}([./-][0-9]{1,4}){1,2}"
    r"|[0-9]{1,3}([.,][0-9]{3})+|[0-9]{1,2}(:[0-9]{2}){1,2}"
)
"""What a spreadsheet would turn into a number, a date or a time: firmware 4.10 would come out as 4.1."""


def csv_cell(text: str) -> str:
    """A quoted cell (RFC 4180 s2) that a spreadsheet shows and does not calculate or convert: an apostrophe before it
    says that it is text. Line breaks stay; whatever else would act is shown as its code."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    plain = _FORMULA.sub(r"\1'", "\n".join(terminal(line) for line in lines))
    if _CONVERTED.fullmatch(plain):
        plain = f"'{plain}"
    return '"' + plain.replace('"', '""') + '"'


def metric_label(text: str) -> str:
    """A label's value as OpenMetrics 1.0 and the older text format both quote it; nothing in it acts."""
    return '"' + terminal(text).replace("\\", "\\\\").replace('"', '\\"') + '"'
