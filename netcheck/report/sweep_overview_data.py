"""The devices of an overview as the data inside its page. Stage: outcomes → JSON for `data/overview.js`.

Ten thousand devices say mostly the same: a text or a finding stands there once, and a row names it by its number. All
text is clipped and made harmless here, so that the page shows characters that act as their codes.
"""

from collections.abc import Iterable, Sequence
from typing import Any, Final

from netcheck.report.page import clipped
from netcheck.report.safe import script_json, terminal
from netcheck.report.sweep_night import KINDS, gist, kind_of, lowest, moment
from netcheck.ruling import RULES
from netcheck.sweeping.outcome import Found, Swept
from netcheck.verdict import Standing
from netcheck.words import join

HEADINGS: Final[dict[Standing, str]] = {
    Standing.IN_THE_WAY: "In the way",
    Standing.MISSING: "Missing: not seen, and needed",
    Standing.WATCH: "To watch",
    Standing.LATER: "Later",
    Standing.NOTE: "Notes",
}
MOST_SUPPLIES: Final = 64
MOST_FINDINGS: Final = 200


def shown(text: str) -> str:
    """A text as a page shows it."""
    return terminal(clipped(text))


def doing(found: Found) -> tuple[str, str]:
    """What to do about a finding, and what to be careful of; nothing where nothing is to be done yet."""
    if found.standing > Standing.WATCH or not found.root:
        return found.remedy, ""
    rule = RULES.get(found.id)
    remedy = found.remedy or (rule.explanation.do if rule else "")
    return remedy, rule.explanation.caution if rule and remedy else ""


class _Table:
    """Values by number, each once."""

    def __init__(self) -> None:
        self.numbers: dict[Any, int] = {}

    def __call__(self, value: Any) -> int:
        return self.numbers.setdefault(value, len(self.numbers))


class _Coder:
    def __init__(self) -> None:
        self._raw: dict[str, int] = {}
        self.texts, self.findings = _Table(), _Table()
        self._kinds = {name: number for number, name in enumerate(KINDS)}

    def text(self, text: str) -> int:
        """Looked up as it came, so that it is made harmless once."""
        if (number := self._raw.get(text)) is None:
            number = self._raw[text] = self.texts(shown(text))
        return number

    def finding(self, found: Found) -> int:
        remedy, caution = doing(found)
        texts = (found.title, found.detail, remedy, caution, join(found.sources, "; "), found.id)
        return self.findings((int(found.standing), *map(self.text, texts), int(found.root)))

    def row(self, swept: Swept) -> list[Any]:
        """In the order in which the script takes it apart."""
        row, text = swept.row, self.text
        own = "" if swept.address == row.new.host else shown(swept.address)
        return [
            shown(row.key),
            shown(row.new.host),
            text(row.site),
            self._kinds[kind_of(swept).name],
            text(swept.model),
            text(swept.firmware),
            lowest(swept),
            text(gist(swept)),
            shown(swept.serial),
            shown(swept.mac),
            own,
            moment(swept.at_ms).removesuffix(" UTC"),
            swept.took_ms,
            text(row.gate),
            text(swept.standard.name),
            text(row.queue.name if row.queue else ""),
            text(row.notes),
            shown(row.new.asset),
            text(swept.fault),
            swept.fine,
            [[text(each.name), each.percent] for each in swept.supplies[:MOST_SUPPLIES]],
            [self.finding(each) for each in _heaviest(swept.findings)],
        ]


def _heaviest(findings: Iterable[Found]) -> Sequence[Found]:
    return sorted(findings, key=lambda each: (each.standing, not each.root))[:MOST_FINDINGS]


def fleet_json(rows: Iterable[Swept], case_command: str) -> str:
    """The whole of it, fit for a ``script`` element."""
    coder = _Coder()
    coded = [coder.row(each) for each in rows]
    return script_json(
        {
            "rows": coded,
            "texts": list(coder.texts.numbers),
            "findings": list(coder.findings.numbers),
            "kinds": [[kind.name, kind.word, kind.shape] for kind in KINDS.values()],
            "standings": [[int(standing), heading] for standing, heading in HEADINGS.items()],
            "command": case_command,
        }
    )
