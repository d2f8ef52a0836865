"""The code that is read over the phone: by hand, by a second implementation, and every single slip."""

import math
import os
import re
import subprocess
import sys
from difflib import SequenceMatcher
from itertools import accumulate, combinations, pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.spoken import ALPHABET, GROUPS, MAX_HEARD, WORDS, code_of, heard, spoken

# Common practice, no source: what is taken for one another in print and by hand. Codes are printed in capitals.
LOOK_ALIKE = [
    "0OQD", "OC", "1IL", "IJ", "17", "7T", "27", "2Z", "38", "8B", "5S", "8S", "6B", "6G", "CG", "9G", "9Q", "49", "4A",
    "UV", "VW", "VY", "XY", "TY", "MN", "HN", "EF", "PR", "PB", "DB", "KX",
]  # fmt: skip
# Common practice, no source: letters and digits whose English names are taken for one another on a telephone.
SOUND_ALIKE = ["BCDEGPTVZ3", "AJK", "AH8", "FSX6", "MN", "IY59", "QU2", "UW", "O0"]

hashes = st.binary(min_size=32, max_size=32).map(bytes.hex)
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
"""SHA-256 of "abc", as published in the examples to FIPS 180-4."""


def theirs(whole: str) -> str:
    """A second implementation: digits from the left by powers, both sums by adding up only, the check by trying all."""
    characters = "BFHKLMORWY7"
    number = int(whole, 16) % 11**8
    data = [number // 11**power % 11 for power in range(7, -1, -1)]
    for check in product(range(11), repeat=2):
        from_the_right = [*data, *check][::-1]
        running = list(accumulate(from_the_right))  # adding up the running sums weighs the places by 1 to 10
        if running[-1] % 11 == 0 and sum(running) % 11 == 0:
            text = "".join(characters[value] for value in (*data, *check))
            return f"{text[:3]}-{text[3:6]}-{text[6:]}"
    raise AssertionError("there is always one")


def flat(code: str) -> str:
    return code.replace("-", "")


def is_refused(text: str) -> bool:
    try:
        heard(text)
    except ValueError:
        return True
    return False


def slips(code: str) -> list[tuple[str, tuple[int, ...]]]:
    """Every code with one other character, or with two unequal neighbours swapped; and the places."""
    text = flat(code)
    wrong: list[tuple[str, tuple[int, ...]]] = [
        (text[:place] + other + text[place + 1 :], (place,))
        for place in range(len(text))
        for other in ALPHABET
        if other != text[place]
    ]
    for first, second in pairwise(range(len(text))):
        if text[first] != text[second]:
            swapped = text[:first] + text[second] + text[first] + text[second + 1 :]
            wrong.append((swapped, (first, second)))
    return wrong


@pytest.mark.parametrize(
    ("low", "code"),
    [
        # By hand. Values B0 F1 H2 K3 L4 M5 O6 R7 W8 Y9 7=10; the sum and the sum weighted by place are 0 modulo 11.
        (0, "BBB-BBB-BBBB"),
        (1, "BBB-BBB-BFYF"),  # 8th: 1, then 9 and 1: 1+9+1 = 11; 8+81+10 = 99 = 9*11
        (11, "BBB-BBB-FBWH"),  # 7th: 1, then 8 and 2: 1+8+2 = 11; 7+72+20 = 99
        (11**7 * 10, "7BB-BBB-BBYK"),  # 1st: 10, then 9 and 3: 10+9+3 = 22; 10+81+30 = 121 = 11*11
        (11**8, "BBB-BBB-BBBB"),  # 11^8 is 0 again
    ],
)
def test_a_code_computed_by_hand(low: int, code: str) -> None:
    assert code_of(f"{low:064x}") == code


def test_the_golden_code_of_a_published_hash() -> None:
    """By hand: modulo 11^8 it is 147,051,296, 7 6 0 0 8 8 10 7 to base 11; sums 2 and 2; 4 and 5 make both 0."""
    assert code_of(ABC) == theirs(ABC) == "ROB-BWW-7RLM"


@given(hashes)
def test_every_code_is_what_a_second_implementation_says(whole: str) -> None:
    assert code_of(whole) == theirs(whole)
    assert re.fullmatch(r"[BFHKLMORWY7]{3}-[BFHKLMORWY7]{3}-[BFHKLMORWY7]{4}", code_of(whole))


@pytest.mark.parametrize(
    "whole", ["", "ab", ABC[:-1], ABC + "0", ABC.upper(), ABC[:-1] + "g", ABC[:-1] + "\n", "-" + ABC[1:]]
)
def test_what_is_no_hash_has_no_code(whole: str) -> None:
    with pytest.raises(ValueError, match="64 hexadecimal digits"):
        code_of(whole)


def test_two_documents_of_a_job_share_a_code_less_than_once_in_a_million() -> None:
    """Arithmetic: 21 documents are 210 pairs, and there are 11^8 codes."""
    codes = len(ALPHABET) ** (sum(GROUPS) - 2)
    assert math.log2(codes) > 27.6
    assert math.comb(21, 2) / codes < 1e-6


# --- what eye and ear confuse


@pytest.mark.parametrize("alike", LOOK_ALIKE)
def test_no_two_characters_look_alike(alike: str) -> None:
    assert len(set(alike) & set(ALPHABET)) <= 1


@pytest.mark.parametrize("alike", SOUND_ALIKE)
def test_no_two_characters_sound_alike_by_name(alike: str) -> None:
    assert len(set(alike) & set(ALPHABET)) <= 1


def test_the_alphabet_is_prime_and_longer_than_a_code() -> None:
    """Both are what the proof of the check needs."""
    size = len(ALPHABET)
    assert size == len(set(ALPHABET))
    assert all(size % divisor for divisor in range(2, size))
    assert size > sum(GROUPS)


def test_words_begin_with_their_character_and_differ_in_it() -> None:
    assert {character: word[0] for character, word in WORDS.items()} == {
        character: "S" if character == "7" else character for character in ALPHABET
    }
    assert len({word[0] for word in WORDS.values()}) == len(WORDS)


def test_words_have_two_syllables_or_more() -> None:
    """Common practice, no source: a long word survives where a short one is lost. Groups of vowels, roughly counted."""
    assert {word for word in WORDS.values() if len(re.findall(r"[aeiou]+|(?<=[^aeiou])y$", word.lower())) < 2} == set()


@pytest.mark.parametrize(("one", "other"), list(combinations(WORDS.values(), 2)))
def test_no_two_words_rhyme_or_share_much(one: str, other: str) -> None:
    assert one[-2:] != other[-2:]
    assert SequenceMatcher(None, one.lower(), other.lower()).find_longest_match().size <= 2
    assert one[1] != other[1] or one[2] != other[2]
    vowels = [re.findall("[aeiou]+", word.lower())[0] for word in (one, other)]  # the stressed one, save in two words
    assert vowels[0] != vowels[1] or one[-1] != other[-1]


def test_no_word_can_be_read_as_characters() -> None:
    for word in WORDS.values():
        with pytest.raises(ValueError, match="group"):
            heard(f"{word}{word}")


# --- round trip


@given(hashes)
def test_a_code_is_heard_as_it_was_written_and_as_it_was_spoken(whole: str) -> None:
    code = code_of(whole)
    assert heard(code) == code
    assert heard(spoken(code)) == code


def test_what_is_spoken() -> None:
    assert spoken("BBB-BBB-BFYF") == "Banana Banana Banana, Banana Banana Banana, Banana Football Yesterday Football"


@pytest.mark.parametrize(
    "text",
    [
        "BBB-BBB-BFYF", "bbb-bbb-bfyf", "BBBBBBBFYF", " b b b  b b b  b f y f ", "BBB BBB BFYF", "BBB, BBB, BFYF.",
        "B-B-B B-B-B B-F-Y-F", "BBBBB-BBFYF", "BBB\u2013BBB\u2014BFYF", "BBB/BBB/BFYF\n",
        "888-333-8FYE",  # by eye: 8 and 3 are B, E is F
        "banana BANANA Banana - banana b banana - B Football yesterday FOOTBALL",
        "Banana,Banana,Banana,Banana,Banana,Banana,Banana,Football,Yesterday,Football",
        "BB banana / BBB / b football YF",
    ],
)  # fmt: skip
def test_case_blanks_hyphens_words_and_look_alikes_are_tolerated(text: str) -> None:
    assert heard(text) == "BBB-BBB-BFYF"


@pytest.mark.parametrize(("typed", "meant"), [*zip("0QD83EIPX", "OOOBBFLRK", strict=True)])
def test_a_look_alike_is_taken_for_its_only_partner(typed: str, meant: str) -> None:
    """Common practice, no source: the pairs of LOOK_ALIKE."""
    code = next(code for code in map(code_of, map("{:064x}".format, range(11**8))) if meant in code)
    assert heard(code.replace(meant, typed)) == heard(code.replace(meant, typed.lower())) == code


# --- every slip


def test_every_single_slip_of_one_code_is_refused_and_located() -> None:
    """Exhaustive: 100 wrong characters, and every swap of neighbours that changes something."""
    code = theirs(ABC)
    ends = [3, 6, 10]
    for wrong, places in slips(code):
        groups = {1 + sum(place >= end for end in ends) for place in places}
        with pytest.raises(ValueError, match="check fails") as caught:
            heard(wrong)
        named = re.search(r"groups? ([123](?:(?:, | and )[123])*) read again", str(caught.value))
        assert named, caught.value
        told = set(map(int, re.findall(r"\d", named[1])))
        assert groups <= told
        if len(places) == 1:
            within = places[0] - [0, *ends][min(groups) - 1] + 1
            assert told == groups
            assert f"character {within} there is wrong" in str(caught.value)
        else:
            assert "two neighbours there changed places" in str(caught.value)


@given(hashes)
def test_every_single_slip_of_many_codes_is_refused(whole: str) -> None:
    assert [wrong for wrong, _ in slips(code_of(whole)) if not is_refused(wrong)] == []


@given(hashes, st.data())
def test_any_two_wrong_characters_are_refused(whole: str, data: st.DataObject) -> None:
    text = list(flat(code_of(whole)))
    for place in data.draw(st.sets(st.integers(0, 9), min_size=2, max_size=2)):
        text[place] = data.draw(st.sampled_from([each for each in ALPHABET if each != text[place]]))
    assert is_refused("".join(text))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "all groups together have 0 instead of 10"),
        ("- - -", "all groups together have 0 instead of 10"),
        ("BBBBBBBFY", "all groups together have 9 instead of 10"),
        ("BBBBBBBFYFF", "all groups together have 11 instead of 10"),
        ("BBB-BB-BFYF", "group 2 has 2 instead of 3"),
        ("BB BBB BFYFF F", "all groups together have 11"),
        ("BB-BBB-BFYFF7", "group 1 has 2 instead of 3; group 3 has 6 instead of 4"),
        ("BBB-BSB-BFYF", "group 2: 'S' in 'BSB' is in no code"),
        ("BBBB BBB S FYF", "group 3: 'S' is in no code"),
        ("BBB-BBB-BF1F", "group 3: '1' in 'BF1F' may be 7 or L"),
        ("N BB BBB BFYF", "group 1: 'N' may be H or M"),
        ("Banana Tomato Banana", "group 2: 'T' in 'TOMATO' is in no code"),
        ("BBB-BBB-BF|F", r"group 3: '\|' in 'BF\|F' is in no code"),
        ("BBB-BBB-BF\u00dfF", "group 3: 'S'"),
        ("BBB-BBB-BF\uff39F", "group 3: '\uff39'"),
        ("BBB-BBB-BFYH", "have group 3 read again; if it is one slip, character 4 there is wrong"),
        ("BFK-BBB-BFYF", "more than one slip: have groups 1, 2 and 3 read again"),
        ("B" * (MAX_HEARD + 1), "too long"),
    ],
)
def test_what_is_wrong_is_said_with_its_group(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        heard(text)


def test_a_wrong_code_is_never_read_aloud() -> None:
    with pytest.raises(ValueError, match="check fails"):
        spoken("BBB-BBB-BFYH")


@given(st.text(max_size=60) | st.text([*ALPHABET, *"1-N ,"], max_size=14))
def test_any_text_is_a_code_or_a_complaint(text: str) -> None:
    """Nothing but ValueError comes out, and what is accepted is written as a code."""
    if not is_refused(text):
        assert re.fullmatch(f"[{ALPHABET}]{{3}}-[{ALPHABET}]{{3}}-[{ALPHABET}]{{4}}", heard(text))


@pytest.mark.parametrize(
    "place",
    [
        {"TZ": "Pacific/Kiritimati", "LC_ALL": "tr_TR.UTF-8", "PYTHONHASHSEED": "1"},
        {"TZ": "America/Adak", "LC_ALL": "C", "PYTHONHASHSEED": "2", "PYTHONUTF8": "0"},
    ],
)
def test_the_code_is_the_same_in_another_time_zone_and_locale(place: dict[str, str]) -> None:
    program = (
        "import locale, sys\n"
        "try: locale.setlocale(locale.LC_ALL, '')\n"
        "except locale.Error: pass\n"
        "from netcheck.spoken import code_of, heard\n"
        "print(heard(code_of(sys.argv[1]).lower()))"
    )
    asked = [sys.executable, "-c", program, ABC]
    done = subprocess.run(asked, env={**os.environ, **place}, capture_output=True, text=True, timeout=30, check=True)
    assert done.stdout.strip() == theirs(ABC)
