"""The read-out: what is said fits the verdict, fits half a minute, and a slip in saying or typing it is noticed.

Speech: four syllables a second is unhurried (common practice, no source). The forms of the fields and the check are
this project's own promise; the check's arithmetic is compared with its definition, worked out here in another way.
"""

import hashlib
import itertools
import json
import re
import string
from collections.abc import Iterator

import msgspec
import pytest

import netcheck.rules as _rules  # noqa: F401 - importing it fills RULES
from netcheck.dictation import NotHeardError, take, take_check
from netcheck.facts import Fact
from netcheck.facts.identity import Firmware, Serial
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef
from netcheck.numbers import IDS, NUMBERS
from netcheck.readout import FIELDS, ReadOut, in_words, read_out
from netcheck.roles import Role
from netcheck.ruling import RULES
from netcheck.spoken import ALPHABET, WORDS, code_of
from netcheck.standard import FirmwareDemand, ServicesClosed, Standard
from netcheck.verdict import State
from tests.conftest import FIXTURES, LS_2041, make_case
from tests.test_judge import ALONE, HEALTHY

CODE = code_of(hashlib.sha256(b"a file").hexdigest())
SAID = ReadOut(
    job="LS-2041",
    gate="swap",
    blockers="two",
    findings="303 505",
    serial="0457",
    firmware="4.7.2",
    address="21",
    counts="61 3 1 0",
    code=CODE,
)
LONGEST = ReadOut(
    "LS-2041-7", "standing", "unknown", "303 505 601 704 and 12 more", "7W77", "14.77.127", "177", "77 17 17 17", CODE
)


# --- numbers


def test_every_rule_has_a_number_and_no_number_is_given_twice() -> None:
    assert set(NUMBERS) >= set(RULES)
    assert len(IDS) == len(NUMBERS)


def test_a_number_is_for_ever() -> None:
    """Against the numbers that were given out: rows may be added to that file, none changed."""
    given = json.loads((FIXTURES / "numbers" / "given.json").read_text("utf-8"))
    assert len(given) >= 95
    assert {identity: NUMBERS.get(identity) for identity in given} == given


def test_numbers_have_three_digits_none_of_which_leads_with_zero() -> None:
    assert all(100 < number < 1000 for number in IDS)


# --- what is said of a verdict


STANDARD = Standard("site", firmware=FirmwareDemand("4.7.2", "dotted"))
NUMBER = (Role.DEVICE, "ipp", "serial", Serial("HX-77-0457"))


def version(text: str) -> tuple[Role, str, str, Fact]:
    return Role.DEVICE, "ipp", "firmware", Firmware(text)


@pytest.mark.parametrize(
    ("firmware", "standard", "blockers", "state"),
    [
        ("4.7.2", STANDARD, "none", State.READY),
        ("4.8.0", STANDARD, "one", State.NOT_READY),
        ("", STANDARD, "unknown", State.CANNOT_TELL),
        (
            "4.7.2",
            msgspec.structs.replace(STANDARD, services_closed=ServicesClosed(("ipp",))),
            "none",
            State.READY_WITH_CARE,
        ),
    ],
)
def test_the_answer_that_is_read_out_is_the_verdicts(
    firmware: str, standard: Standard, blockers: str, state: State
) -> None:
    case = make_case([*HEALTHY, NUMBER, *([version(firmware)] if firmware else [])], ALONE)
    verdict = judge(case, standard, Gate.STANDING, {})
    said = read_out(case, verdict, Gate.STANDING, "")
    assert verdict.state is state
    assert (said.state, said.blockers, said.serial, said.code) == (state, blockers, "0457", "none")
    assert bool(said.numbers()) == (state in {State.NOT_READY, State.CANNOT_TELL})


@pytest.mark.parametrize(
    ("policy", "host", "final", "last"),
    [
        ("keep", "192.0.2.61", "192.0.2.21", "21"),
        ("keep", "192.0.2.61", "", "none"),
        ("new", "192.0.2.61", "", "61"),
        ("new", "2001:db8::22", "", "22"),
        ("new", "2001:db8::", "", "0"),
        ("new", "halden-36r.example", "", "none"),
        ("usb", "", "", "none"),
    ],
)
def test_the_address_is_the_one_after_the_move(policy: str, host: str, final: str, last: str) -> None:
    move = msgspec.structs.replace(LS_2041, address=policy, new=DeviceRef(host, final=final))
    case = make_case([], move)
    assert read_out(case, judge(case, Standard(), Gate.SWAP, {}), Gate.SWAP, "").address == last


def test_counts_are_said_in_words_while_they_have_short_ones() -> None:
    assert [in_words(each) for each in (0, 1, 2, 12, 13)] == ["none", "one", "two", "twelve", "13"]


# --- half a minute

_SYLLABLES = {"7": 2, "0": 2, "w": 3}
_SPOKEN = {"unknown": 2, "standing": 2, "survey": 2, "blockers": 2, "findings": 2, "serial": 3, "firmware": 2}
_SPOKEN |= {"address": 3, "seven": 2, "eleven": 3, "none": 1, "code": 1, "check": 1, "more": 1}


def syllables(text: str) -> int:
    """Words by their vowel groups at the worst; digits and letters one by one, a point as a word."""
    total = 0
    for token in re.findall(r"[a-z]+|[0-9]|\.", text.casefold()):
        if token in _SPOKEN:
            total += _SPOKEN[token]
        elif len(token) == 1:
            total += _SYLLABLES.get(token, 1)
        else:
            total += max(1, len(re.findall(r"[aeiouy]+", token)))
    return total


def whole(said: ReadOut) -> str:
    fields = " ".join(f"{field} {getattr(said, field)}" for field in FIELDS if field != "code")
    words = " ".join(WORDS[each] for each in said.code.replace("-", "") + said.check)
    return f"{fields} code {words} check"


def test_it_takes_half_a_minute_to_say() -> None:
    assert syllables("Banana Football") == 5  # the measure itself
    assert syllables(whole(SAID)) / 4 <= 30


def test_the_longest_that_is_likely_takes_three_quarters_of_a_minute() -> None:
    assert syllables(whole(LONGEST)) / 4 <= 45


# --- slips


def slips(said: ReadOut) -> Iterator[ReadOut]:
    """Every other digit or letter in the place of one, and every swap of neighbours, in the fields that are free."""
    for field in ("job", "findings", "serial", "firmware", "address", "counts"):
        text = getattr(said, field)
        for place, was in enumerate(text):
            kind = string.digits if was.isdigit() else string.ascii_lowercase if was.isalpha() else ""
            for other in kind.replace(was.lower(), ""):
                yield msgspec.structs.replace(said, **{field: text[:place] + other + text[place + 1 :]})
        for place, (first, second) in enumerate(itertools.pairwise(text)):
            heard = field in {"findings", "counts"}  # a pause between numbers is heard
            if first.lower() != second.lower() and (first + second).replace(" ", "1" if heard else " ").isalnum():
                yield msgspec.structs.replace(said, **{field: text[:place] + second + first + text[place + 2 :]})


def test_the_checks_numbers_are_what_the_proof_needs() -> None:
    """1327 is prime, three words hold it, and 293 has full order: so no two places weigh the same."""
    assert all(1327 % each for each in range(2, 37))
    assert len(ALPHABET) ** 3 > 1327
    assert len({pow(293, place, 1327) for place in range(1326)}) == 1326


def test_the_check_is_what_the_module_says_it_is() -> None:
    texts = (
        getattr(SAID, field).lower().replace(" ", "." if field in {"findings", "counts"} else "") for field in FIELDS
    )
    plain = "|".join(re.sub(r"[^a-z0-9.]", "", text) for text in texts)
    number = sum(ord(each) * 293**place for place, each in enumerate(reversed(plain))) % 1327
    assert SAID.check == "".join(ALPHABET[number // 11**place % 11] for place in range(3))


def test_every_slip_in_a_free_field_is_noticed() -> None:
    read = (SAID, LONGEST, msgspec.structs.replace(SAID, job="none"))
    tried = [(said, slip) for said in read for slip in slips(said)]
    assert len(tried) > 1200
    assert not [slip for said, slip in tried if slip.check == said.check]


def test_what_nobody_hears_is_no_slip() -> None:
    assert msgspec.structs.replace(SAID, job="ls 2041", gate="SWAP").check == SAID.check


# --- back from what was typed


def test_every_field_is_taken_as_it_is_printed() -> None:
    for said in (SAID, LONGEST, msgspec.structs.replace(SAID, findings="none", code="none", serial="none")):
        assert ReadOut(**{field: take(field, getattr(said, field)) for field in FIELDS}) == said


@pytest.mark.parametrize(
    ("field", "typed", "taken"),
    [
        ("gate", " Swap ", "swap"),
        ("blockers", "2", "two"),
        ("blockers", "Two", "two"),
        ("blockers", "0", "none"),
        ("blockers", "no", "none"),
        ("findings", "303, 505", "303 505"),
        ("findings", "303 505 601 704 and 3", "303 505 601 704 and 3 more"),
        ("counts", "61, 3, 1, 0", "61 3 1 0"),
        ("code", " ".join(WORDS[each] for each in CODE.replace("-", "")), CODE),
        ("firmware", "4.7.2.", "4.7.2"),
        ("firmware", "four point seven point two", "4.7.2"),
        ("firmware", "4 dot 7 dot 2", "4.7.2"),
        ("serial", "oh four five seven", "0457"),
        ("serial", "zero four fifty-seven", "0457"),
        ("serial", "7 w 7 7", "7W77"),
        ("address", "twenty one", "21"),
        ("address", "2 1", "21"),
        ("address", "one nine", "19"),
        ("findings", "seven zero four", "704"),
        ("findings", "7 0 4, 3 0 3", "704 303"),
        ("counts", "fifty-four zero one nineteen", "54 0 1 19"),
        ("counts", "54 oh oh oh", "54 0 0 0"),
        ("blockers", "Twelve", "twelve"),
        ("job", "LS dash 2041", "LS-2041"),
        ("code", " dash ".join(CODE.split("-")), CODE),
    ],
)
def test_what_is_typed_in_another_way_is_taken_too(field: str, typed: str, taken: str) -> None:
    assert take(field, typed) == taken


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("gate", "moon", "survey"),
        ("gate", "", "survey"),
        ("blockers", "some", "how many"),
        ("findings", "30", "three digits"),
        ("findings", "303 and many", "three digits"),
        ("findings", "and 3", "three digits"),
        ("counts", "1 2 3", "four numbers"),
        ("code", CODE[:-1], "instead of"),
        ("job", "x" * 41, "40 characters at most"),
        ("serial", "HX-77-0457", "the last 4"),
        ("address", "192.0.2.21", "the last number"),
        ("address", "left", "the last number"),
        ("counts", "none", "four numbers"),
        ("counts", "five four", "four numbers"),
        ("serial", "", "the last 4"),
        ("blockers", "\u0663", "how many"),
        ("counts", "\u0663 2 3 4", "four numbers"),
    ],
)
def test_what_cannot_have_been_read_out_is_refused(field: str, typed: str, says: str) -> None:
    with pytest.raises(NotHeardError, match=re.escape(says)):
        take(field, typed)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"blockers": "none"}, "no blockers, and 0 missing, findings 303 505"),
        ({"blockers": "none", "findings": "none", "counts": "61 3 1 2"}, "no blockers, and 2 missing"),
        ({"findings": "none"}, "blockers two, and no findings"),
        ({"blockers": "unknown"}, "nothing missing"),
    ],
)
def test_fields_that_cannot_both_have_been_printed_are_seen(changed: dict[str, str], says: str) -> None:
    assert SAID.contradiction == ""
    assert says in msgspec.structs.replace(SAID, **changed).contradiction


def test_where_one_number_ends_is_heard() -> None:
    """42 0 1 0 is not 4 2 0 10: the third of them is the answer."""
    counted = msgspec.structs.replace(SAID, counts="42 0 1 0")
    for other in ("4 2 0 10", "4 20 1 0", "42 01 0 0"):
        assert msgspec.structs.replace(counted, counts=other).check != counted.check


def test_the_check_is_taken_as_characters_or_words() -> None:
    assert take_check("Banana dash Football - Magnet") == "BFM"
    assert take_check("b f m") == take_check("Banana football, MAGNET") == "BFM"
    for wrong in ("", "BF", "BFMM", "BFX", "Banana Football Mango"):
        with pytest.raises(NotHeardError, match="or their words"):
            take_check(wrong)
