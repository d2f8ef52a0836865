"""RFC 8785's own examples, and those of the reference implementation (github.com/cyberphone/json-canonicalization,
folder testdata; the draft beside it has the RFC's section 3.2 and appendix B).

What our profile takes (no floats, ASCII keys, whole numbers within 2^53 - 1) is the same byte for byte; what it does
not take is refused by name, and never silently different.
"""

import json
import struct

import msgspec
import pytest
import rfc8785

from netcheck.document import canonical

ESCAPING = r'''"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/"'''
RFC_8785 = [
    pytest.param(
        f'{{"string": {ESCAPING}, "literals": [null, true, false]}}',
        '{"literals":[null,true,false],"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
        id="s3.2.2 and s3.2.3 without the numbers",
    ),
    pytest.param(
        '{"1": "One", "\\r": "Carriage Return"}',
        '{"\\r":"Carriage Return","1":"One"}',
        id="s3.2.3, its ASCII keys, from memory",
    ),
    pytest.param('[56, {"d": true, "10": null, "1": []}]', '[56,{"1":[],"10":null,"d":true}]', id="arrays.json"),
    pytest.param(
        '{"1": {"f": {"f": "hi", "F": 5}, "\\n": 56}, "10": {}, "": "empty", "a": {}, "111": [{}], "A": {}}',
        '{"":"empty","1":{"\\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{}],"A":{},"a":{}}',
        id="structures.json, 56 written as a whole number",
    ),
    pytest.param(
        '{"Unnormalized Unicode": "\\u1e0d\\u0307"}', '{"Unnormalized Unicode":"\u1e0d\u0307"}', id="unicode.json"
    ),
    pytest.param(
        '["\\u0000\\u0007\\b\\t\\n\\u000b\\f\\r\\u001f\\u007f\\u0080\\ufb33\\ud83d\\ude02</script>"]',
        '["\\u0000\\u0007\\b\\t\\n\\u000b\\f\\r\\u001f\x7f\x80\ufb33\U0001f602</script>"]',
        id="the escapes of s3.2.2.2, and the texts of weird.json",
    ),
]


@pytest.mark.parametrize(("text", "canonical_form"), RFC_8785)
def test_the_rfcs_examples_to_the_byte(text: str, canonical_form: str) -> None:
    assert canonical(json.loads(text)) == canonical(msgspec.json.decode(text)) == canonical_form.encode()


def test_the_rfcs_octets() -> None:
    """RFC 8785 s3.2.4: the octets, of which those of the numbers are left out."""
    octets = (
        "7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 75 65 2c 66 61 6c 73 65 5d 2c 22 73 74 72 69 6e"
        "67 22 3a 22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22 7d"
    )
    value = {"string": '\u20ac$\u000f\nA\'B"\\\\"/', "literals": [None, True, False]}
    assert canonical(value) == bytes.fromhex(octets)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param('{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 1e-27]}', "333333333.3333333", id="s3.2.2"),
        pytest.param('{"1": {"\\n": 56.0}}', "number 56.0", id="structures.json"),
        pytest.param('{"\\u20ac": "Euro Sign", "\\r": "Carriage Return", "1": "One"}', "key '\u20ac'", id="s3.2.3"),
        pytest.param('{"\\ud83d\\ude02": "Smiley"}', "key '\U0001f602'", id="weird.json"),
        pytest.param('{"peach": "", "p\u00e9ch\u00e9": ""}', "key 'p\u00e9ch\u00e9'", id="french.json"),
        pytest.param("[9007199254740992]", "9007199254740992", id="appendix B, the first beyond"),
        pytest.param("[-9007199254740992]", "-9007199254740992", id="appendix B, the last beyond"),
        pytest.param("[295147905179352830000]", "295147905179352830000", id="appendix B, 4430000000000000"),
        pytest.param("[999999999999999700000]", "999999999999999700000", id="appendix B, 444b1ae4d6e2ef4e"),
    ],
)
def test_what_of_the_rfcs_examples_we_do_not_take_is_refused_by_name(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=r"number|key") as refused:
        canonical(json.loads(text))
    assert says in str(refused.value)


def test_half_a_character_is_refused() -> None:
    """RFC 8785 s3.2.2.2: a lone surrogate, as U+DEAD, must end in an error (from memory)."""
    with pytest.raises(ValueError, match="surrogates"):
        canonical({"name": json.loads(r'"\udead"')})


APPENDIX_B = {
    "0000000000000000": "0", "8000000000000000": "0",
    "0000000000000001": "5e-324", "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308", "ffefffffffffffff": "-1.7976931348623157e+308",
    "7fffffffffffffff": None, "7ff0000000000000": None,
    "4340000000000000": "9007199254740992", "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22", "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000", "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "41b3de4355555553": "333333333.3333332", "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333", "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343",
    "becbf647612f3696": "-0.0000033333333333333333", "43143ff3c1cb0959": "1424953923781206.2",
}  # fmt: skip
"""The number samples: the double, and how it is written. 434..., c34..., 443..., bec... and 431... are from memory."""


@pytest.mark.parametrize("double", APPENDIX_B)
def test_a_double_of_appendix_b_is_never_sealed(double: str) -> None:
    """Not even those that are whole: whoever reads 1E21 reads another number than was measured."""
    (value,) = struct.unpack(">d", bytes.fromhex(double))
    with pytest.raises(ValueError, match="number"):
        canonical({"value": value})
    if written := APPENDIX_B[double]:
        assert rfc8785.dumps(value) == written.encode()


@pytest.mark.parametrize("whole", [0, 1, -1, 56, 333_333_333, 2**53 - 1, -(2**53) + 1])
def test_a_whole_number_that_every_reader_reads_is_written_as_the_rfc_does(whole: int) -> None:
    """RFC 8785 s3.2.2.3: as ECMAScript writes the double, which up to 2^53 - 1 is with all its digits."""
    assert canonical(whole) == rfc8785.dumps(whole) == rfc8785.dumps(float(whole)) == str(whole).encode()
