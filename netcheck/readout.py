"""The read-out: a verdict in half a minute of speech. Stage: after the verdict, beside the reports; pure.

A technician with nothing but a bad phone line reads nine short fields and three words; the desk types them
(``netcheck judge --spoken``) and has, without the file, what the answer was and what stands in the way, by number.

*What is checked.* Each field has its own form: a gate is one of five, a finding is a number of three digits, the code
catches its own slips (`netcheck.spoken`; what may be typed is in `netcheck.dictation`). Over all fields together goes a
check of three more words: the text as a number in base 293, modulo 1327, the largest prime that eleven words in three
places can hold. 293 is a primitive root of it, so no two of 1,326 places weigh the same: one wrong character changes
the sum by a product of two numbers of which neither is 0, and so does a swap. Hence each of those is caught; anything
worse passes once in 1,327. Case, blanks and hyphens are not part of it, since nobody hears them, but for the pauses
between numbers. It shows that what was typed is what was printed, not that the printed is true.
"""

import re
from collections.abc import Iterable
from typing import Final

import msgspec

from netcheck.case import Case
from netcheck.evidence import PERSON, facts_of
from netcheck.facts.identity import Firmware, Serial
from netcheck.gates import Gate
from netcheck.move import KEEP, Move
from netcheck.numbers import NUMBERS
from netcheck.place import is_address
from netcheck.roles import Role
from netcheck.spoken import ALPHABET
from netcheck.verdict import Finding, Holds, Standing, State, Verdict, standings

NONE, UNKNOWN = "none", "unknown"
TAIL = 4
MOST_NUMBERS = 4
"""Further findings are for the file; what is read out must stay short."""
LONGEST = 40
CHECKS = 3
_PRIME, _BASE = 1327, 293
COUNTED = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


class ReadOut(msgspec.Struct, frozen=True):
    """The fields in the order in which they are read, each as it is printed.

    ``blockers`` is none, unknown or a number in words; ``findings`` the numbers of what is in the way or missing;
    ``serial`` the last four of the new device's; ``address`` the last part of its address after the move; ``counts``
    how many requirements are measured, on a person's word, to watch, missing; ``code`` the saved file's. What there is
    none of is ``none``.
    """

    job: str
    gate: str
    blockers: str
    findings: str
    serial: str
    firmware: str
    address: str
    counts: str
    code: str

    @property
    def state(self) -> State:
        """The answer that was read out."""
        if self.blockers == UNKNOWN:
            return State.CANNOT_TELL
        if self.blockers != NONE:
            return State.NOT_READY
        return State.READY_WITH_CARE if self.counts.split()[2] != "0" else State.READY

    @property
    def check(self) -> str:
        """Three characters of the code's alphabet, over all fields."""
        plain = "|".join(_unspoken(field, getattr(self, field)) for field in FIELDS)
        rest, characters = 0, ""
        for each in plain:
            rest = (rest * _BASE + ord(each)) % _PRIME
        for _ in range(CHECKS):
            rest, value = divmod(rest, len(ALPHABET))
            characters += ALPHABET[value]
        return characters

    @property
    def contradiction(self) -> str:
        """What cannot both have been printed; "" where all of it can."""
        missing = self.counts.split()[3]
        if self.blockers == NONE and (missing != "0" or self.findings != NONE):
            return f"no blockers, and {missing} missing, findings {self.findings}"
        if self.blockers != NONE and self.findings == NONE:
            return f"blockers {self.blockers}, and no findings"
        return "blockers unknown, and nothing missing" if self.blockers == UNKNOWN and missing == "0" else ""

    def numbers(self) -> list[int]:
        """The findings' numbers."""
        return [int(each) for each in re.findall(r"\d+", self.findings.partition("and")[0])]


FIELDS: Final = ReadOut.__struct_fields__
_NUMBERS: Final = {"findings", "counts"}


def read_out(case: Case, verdict: Verdict, gate: Gate, code: str) -> ReadOut:
    """What there is to say of a verdict. ``code`` is the saved document's, "" where nothing was saved."""
    stands = standings(verdict.findings, gate)
    roots = [each for each in verdict.findings if not each.causes]

    def standing(*which: Standing) -> list[Finding]:
        return [each for one in which for each in roots if stands[each.key] is one]

    blocking, missing = standing(Standing.IN_THE_WAY), standing(Standing.MISSING)
    measured, word = met_by(verdict.findings)
    role = next((each for each in (Role.NEW, Role.DEVICE, Role.OLD) if each in case.move.roles()), Role.NEW)
    serial = "".join(filter(str.isalnum, next((each.value for each in facts_of(case, role, Serial)), "")))
    firmware = next((each.version for each in facts_of(case, role, Firmware)), "")
    blockers = in_words(len(blocking)) if verdict.state is not State.CANNOT_TELL else UNKNOWN
    counts = (measured, word, len(standing(Standing.WATCH)), len(missing))
    return ReadOut(
        job=case.move.job[:LONGEST] or NONE,
        gate=str(gate),
        blockers=blockers,
        findings=_numbered([*blocking, *missing]),
        serial=serial[-TAIL:] or NONE,
        firmware=firmware[:LONGEST] or NONE,
        address=_last_part(case.move, role),
        counts=" ".join(map(str, counts)),
        code=code or NONE,
    )


def met_by(findings: Iterable[Finding]) -> tuple[int, int]:
    """How many requirements are met by measurement, and how many on a person's word alone."""
    met = [finding for finding in findings if finding.state is Holds.MET]
    word = sum(all(each.probe == PERSON for each in finding.evidence) and bool(finding.evidence) for finding in met)
    return len(met) - word, word


def in_words(number: int) -> str:
    """A count as it is said; digits where it has no short name."""
    return COUNTED[number] if number < len(COUNTED) else str(number)


def _numbered(findings: Iterable[Finding]) -> str:
    numbers = list(dict.fromkeys(str(NUMBERS[each.id]) for each in findings))
    more = len(numbers) - MOST_NUMBERS
    return " ".join([*numbers[:MOST_NUMBERS], *([f"and {more} more"] if more > 0 else [])]) or NONE


def _last_part(move: Move, role: Role) -> str:
    """The last number of the address that the device has in the end (IPv6: the last group)."""
    ref = {Role.NEW: move.new, Role.DEVICE: move.device, Role.OLD: move.old}[role]
    if ref is None or (role is Role.NEW and move.address == KEEP and not ref.final):
        return NONE
    address = ref.final or ref.host
    return re.split(r"[.:]", address.partition("%")[0])[-1] or "0" if is_address(address) else NONE


def _unspoken(field: str, text: str) -> str:
    """Without what nobody hears. The points of a version are said, and the pauses between numbers are heard."""
    if field in _NUMBERS:
        return ".".join(re.findall(r"\w+", text.casefold()))
    return "".join(each for each in text.casefold() if each.isalnum() or each == ".")
