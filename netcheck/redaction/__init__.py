"""A case that can be shown to others: who and where is replaced, what and how stays. Stage: Case -> Case, pure.

Support sends a case to the device's maker, say, who needs what the device said, and not whose it is. Names, addresses,
serial numbers and hardware addresses are replaced by others, each by one and the same wherever it stands, in free text
as well; so the redacted case is judged as the original is, finding by finding. The judgement itself is not translated:
whoever has redacted the evidence judges it again.

What each field is, and so what becomes of it, is a table (`netcheck.redaction.treatment`). All times are kept: when
something was seen is part of the evidence. So are makes and models, versions, ports, levels, media and states. What is
left out is said: an attempt that was not tried stands for the facts of a kind that only a later version knows. Objects
that support read beside the facts (``read --raw``) are no evidence, and are left out.

What this cannot do: recognise a name that stands nowhere but in free text (somebody's name in a message on a panel), or
hide who is meant from a reader who knows the site by what it has.
"""

from collections.abc import Iterator
from typing import Any

import msgspec

from netcheck.case import Attempt, Case, Observation
from netcheck.facts import KINDS
from netcheck.move import Move
from netcheck.redaction.atoms import Gathering, Replacing
from netcheck.redaction.fields import Fields
from netcheck.redaction.keyed import Key
from netcheck.redaction.treatment import CASE, DROPPED, MOVE, STANDARD
from netcheck.roles import Outcome, Role
from netcheck.standard import Standard

MARK = ", redacted"
"""What is added to the case's ``tool``, so that the seal vouches for it."""
_LONGEST_KIND = 40


def redacted(case: Case, standard: Standard | None, key: bytes) -> tuple[Case, Standard | None]:
    """The same case and Standard with other names. ``key`` is random, made for this one redaction and thrown away:
    with it, who knows an original can tell what it became; two documents of different keys cannot be compared.

    Raises ValueError for a key of fewer than 16 octets.
    """
    drawn = Key(key)
    case = _known_only(case)
    gathering = Gathering()
    _walked(Fields(gathering), case, standard)
    replacing = Replacing(drawn, gathering)
    fields = Fields(replacing)
    _walked(fields, case, standard)
    replacing.know(
        {"uri": fields.uri, "four": fields.literal, "six": fields.literal, "reverse": fields.host, "host": fields.host}
    )
    case, standard = _walked(fields, case, standard)
    return msgspec.structs.replace(case, tool=case.tool.removesuffix(MARK) + MARK), standard


def _walked(fields: Fields, case: Case, standard: Standard | None) -> tuple[Case, Standard | None]:
    """The Move first: what its names are called says most of what they are."""
    move = msgspec.convert(fields.tree(MOVE, msgspec.to_builtins(case.move)), Move)
    other = standard and msgspec.convert(fields.tree(STANDARD, msgspec.to_builtins(standard)), Standard)
    new = msgspec.structs.replace(
        case,
        move=move,
        attempts=tuple(_attempt(fields, each) for each in case.attempts),
        observations=tuple(_observation(fields, each) for each in case.observations),
    )
    return new, other


def _attempt(fields: Fields, attempt: Attempt) -> Attempt:
    return msgspec.convert(fields.tree(CASE, msgspec.to_builtins(attempt)), Attempt)


def _observation(fields: Fields, seen: Observation) -> Observation:
    about = {"probe": seen.probe, "source": seen.source, "from": seen.from_}
    new = fields.tree(CASE, about)
    value = fields.fact(seen.kind, seen.value)
    return Observation(seen.role, new["probe"], new["source"], seen.at_ms, new["from"], seen.kind, value)


def _known_only(case: Case) -> Case:
    """The case without what cannot be redacted, since nobody here knows what is in it."""
    seen = tuple(_known_fields(each) for each in case.observations if each.kind in KINDS and each.kind not in DROPPED)
    strange = [each for each in case.observations if each.kind not in KINDS]
    return msgspec.structs.replace(
        case, attempts=(*case.attempts, *_left_out(strange, case.made_at)), observations=seen
    )


def _known_fields(seen: Observation) -> Observation:
    fact = msgspec.convert(seen.value, KINDS[seen.kind])
    value: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(fact))
    return msgspec.structs.replace(seen, value=value)


def _left_out(strange: list[Observation], made_at: int) -> Iterator[Attempt]:
    """One attempt for each kind, role and probe: who misses a fact learns here why it is not there."""
    counted: dict[tuple[Role, str, str], int] = {}
    for each in strange:
        kind = each.kind if len(each.kind) <= _LONGEST_KIND and each.kind.isascii() and each.kind.islower() else "?"
        counted[each.role, each.probe, kind] = counted.get((each.role, each.probe, kind), 0) + 1
    for (role, probe, kind), number in counted.items():
        reason = f"left out when the case was redacted: {number} of a kind that this version does not know"
        yield Attempt(role, probe, f"facts of kind {kind}", Outcome.NOT_TRIED, reason, made_at, 0)
