"""What a rule is. Stage: between the facts and the judge.

A rule is one function. Its *signature is its evidence list*: each parameter says whose fact of which kind it needs
(``New[Firmware]``, ``Queue[Jobs]``, ``New[Inputs | MediaReady]`` for whichever of the two there is) or which demand of
the Move or the Standard (``Wanted[FirmwareDemand]``), or the case's time (``Now``). The judge fills the parameters, so
the body never sees None:

* a role that the Move does not speak of, or a demand that is not made: the rule is not asked;
* a fact that was not observed: the finding is *unproven*, with the attempts that say why, and the body is not run;
* what stands *beside* (``OldBeside[Service]``) may be there or not: it tells two causes apart.

Its docstring is what ``netcheck explain`` prints: the question, then the sections Why, Do, Unseen (what settles it
where it was not seen), Denied (where we were not let in), Caution, Takes, Source. ``after`` names the rules whose
failure explains that this one fails, and ``unseen`` those whose failure explains that its facts were not seen; the
graph has no cycle, and a test says so.

What to do is written in sentences, one a step. A sentence that starts with "Ask" is somebody else's step, mostly an
administrator's: those are listed first, since waiting for them starts with the asking. Where the evidence leaves a
second cause open, the ruling names it in ``otherwise``, with what to try next to tell the two apart.
"""

import inspect
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache
from types import UnionType
from typing import Annotated, Any, Generic, TypeVar, Union, get_args, get_origin, get_type_hints

import msgspec

from netcheck.case import Observation
from netcheck.facts import Fact
from netcheck.gates import Gate
from netcheck.roles import Role
from netcheck.verdict import Holds, Weight

T = TypeVar("T")
F = TypeVar("F", bound=Fact, covariant=True)


@dataclass(frozen=True, slots=True)
class Sighting(Generic[F]):
    """A typed fact with the observation that it stands in. ``afar``: seen from outside the site's subnet, where silence
    proves nothing."""

    fact: F
    observation: Observation
    afar: bool = False


@dataclass(frozen=True, slots=True)
class Known(Generic[F]):
    """What is known of one kind of fact about one role. ``every`` holds the latest sighting from each source, best
    source first; all of them may be relied on."""

    every: tuple[Sighting[F], ...]

    @property
    def fact(self) -> F:
        """The fact from the best source."""
        return self.every[0].fact

    def facts(self) -> Iterable[F]:
        """The facts from all sources."""
        return (sighting.fact for sighting in self.every)


@dataclass(frozen=True, slots=True)
class Claims(Generic[F]):
    """Everything that anybody claimed, a person's word included, whether or not it may be relied on."""

    every: tuple[Sighting[F], ...]


@dataclass(frozen=True, slots=True)
class History(Generic[F]):
    """Every sighting that there is, oldest first, those that a later one replaced too: what changed between joined
    cases. Where there is none, there is no question."""

    every: tuple[Sighting[F], ...]


@dataclass(frozen=True, slots=True)
class Beside(Generic[F]):
    """What is known beside the evidence, none of it being a possible answer."""

    every: tuple[Sighting[F], ...]


class Moment(msgspec.Struct, frozen=True):
    """When the case was made, in ms since 1970: "now", for whoever judges it, today or next year."""

    at_ms: int


class _Demand:
    """Marks a parameter that is a demand, not a fact."""


New = Annotated[Known[F], Role.NEW]
"""A fact about the new device, or about the device by itself where there is no move."""
Old = Annotated[Known[F], Role.OLD]
OldClaims = Annotated[Claims[F], Role.OLD]
Queue = Annotated[Known[F], Role.QUEUE]
Here = Annotated[Known[F], Role.HERE]
HereClaims = Annotated[Claims[F], Role.HERE]
NewClaims = Annotated[Claims[F], Role.NEW]
NewHistory = Annotated[History[F], Role.NEW]
NewBeside = Annotated[Beside[F], Role.NEW]
OldBeside = Annotated[Beside[F], Role.OLD]
HereBeside = Annotated[Beside[F], Role.HERE]
Wanted = Annotated[T, _Demand]
Now = Annotated[Moment, _Demand]
"""The case's own time. It is always there; a rule that takes it stays as pure as the others."""


class Ruling(msgspec.Struct, frozen=True):
    """What a rule says of one item. ``found`` and ``wanted`` are the two sides of the comparison, in words;
    ``weight`` is given where one item weighs less than the rule, ``because`` where only some of the rule's ``after``
    can explain it, ``on`` where it rests on some of the evidence only, or on what stands beside it. ``otherwise`` is
    what else it could be, and how to tell."""

    state: Holds
    title: str
    found: str = ""
    wanted: str = ""
    do: str = ""
    item: str = ""
    weight: Weight | None = None
    because: tuple[str, ...] | None = None
    on: tuple[Sighting[Any], ...] = ()
    otherwise: str = ""


def met(title: str, found: str = "", **more: Any) -> Ruling:
    """The requirement holds."""
    return Ruling(Holds.MET, title, found, **more)


def unmet(title: str, found: str = "", wanted: str = "", do: str = "", **more: Any) -> Ruling:
    """The requirement does not hold."""
    return Ruling(Holds.UNMET, title, found, wanted, do, **more)


def unproven(title: str, found: str = "", wanted: str = "", do: str = "", **more: Any) -> Ruling:
    """What was seen does not say."""
    return Ruling(Holds.UNPROVEN, title, found, wanted, do, **more)


@dataclass(frozen=True, slots=True, eq=False)
class Need:
    """One fact parameter: whose, of which kinds (any of them), and whether bare claims will do, all there ever were
    where it is their ``history``, or none at all where it is only looked at ``beside``. There is one of each, shared by
    the rules that have it (`_need`), so that what was found for it is found again at once."""

    role: Role
    kinds: tuple[type[Fact], ...]
    claims: bool
    history: bool = False
    beside: bool = False


@dataclass(frozen=True, slots=True)
class Explanation:
    """A rule's docstring, taken apart. ``takes`` is about how long the remedy takes, where that is worth saying."""

    asks: str
    why: str
    do: str
    unseen: str
    denied: str
    caution: str
    takes: str
    source: str


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule as the judge sees it. It counts from ``gate`` on, and is not asked after ``until``."""

    id: str
    about: str
    gate: Gate
    until: Gate | None
    weight: Weight
    unseen_weight: Weight
    after: tuple[str, ...]
    unseen: tuple[str, ...]
    voids: bool
    needs: dict[str, Need]
    wants: dict[str, type[msgspec.Struct]]
    explanation: Explanation
    body: Callable[..., Ruling | Iterable[Ruling]] = field(repr=False)
    role: Role = field(init=False)
    """Who must change: whoever the first piece of evidence is about; we ourselves, where a rule needs none."""
    roles: frozenset[Role] = field(init=False)
    """Of whom a Move must speak for the rule to be asked."""
    claims: bool = field(init=False)
    """Does it compare claims? Where nobody claimed anything, there is no question."""
    reference: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        """What follows from the rest, once for all cases."""
        roles = [need.role for need in self.needs.values() if not need.beside]
        object.__setattr__(self, "role", roles[0] if roles else Role.HERE)
        object.__setattr__(self, "roles", frozenset(roles))
        object.__setattr__(self, "claims", any(need.claims for need in self.needs.values()))
        object.__setattr__(self, "reference", tuple(filter(None, [self.explanation.source])))

    def rulings(self, evidence: dict[str, object]) -> list[Ruling]:
        """Ask the rule."""
        said = self.body(**evidence)
        return [said] if isinstance(said, Ruling) else list(said)


RULES: dict[str, Rule] = {}
"""Every rule by its id; filled by importing `netcheck.rules`."""

Body = TypeVar("Body", bound=Callable[..., Ruling | Iterable[Ruling]])


def rule(
    about: str,
    *,
    gate: Gate = Gate.SWAP,
    until: Gate | None = None,
    weight: Weight = Weight.BLOCKER,
    unseen_weight: Weight | None = None,
    after: tuple[str, ...] = (),
    unseen: tuple[str, ...] = (),
    voids: bool = False,
) -> Callable[[Body], Body]:
    """Make a function a rule. Its id is its theme (the module's name, up to a first underscore: a large theme has
    several files) and its own name; ``about`` is the noun for what it asks.

    ``voids`` is for a rule whose failure explains everything else about its device: it is not the device that is meant.
    ``unseen_weight`` is for a rule whose facts may lawfully be missing: it then weighs less than its failure does.
    """

    def register(body: Body) -> Body:
        theme = body.__module__.rpartition(".")[2].partition("_")[0]
        identity = f"{theme}.{body.__name__.replace('_', '-')}"
        if identity in RULES:
            raise TypeError(f"two rules are called {identity}")
        needs, wants = _evidence_list(body)
        RULES[identity] = Rule(
            identity,
            about,
            gate,
            until,
            weight,
            unseen_weight or weight,
            after,
            unseen,
            voids,
            needs,
            wants,
            explained(inspect.getdoc(body) or ""),
            body,
        )
        return body

    return register


def _evidence_list(body: Callable[..., Any]) -> tuple[dict[str, Need], dict[str, type[msgspec.Struct]]]:
    needs: dict[str, Need] = {}
    wants: dict[str, type[msgspec.Struct]] = {}
    hints = get_type_hints(body, include_extras=True)
    for name in inspect.signature(body).parameters:
        kind, mark = get_args(hints[name])
        if mark is _Demand:
            wants[name] = kind
            continue
        (fact,) = get_args(kind)
        kinds = get_args(fact) if get_origin(fact) in {Union, UnionType} else (fact,)
        form = get_origin(kind)
        needs[name] = _need(mark, kinds, form)
    return needs, wants


@cache
def _need(role: Role, kinds: tuple[type[Fact], ...], form: type) -> Need:
    return Need(role, kinds, form in {Claims, History}, form is History, form is Beside)


_SECTION = re.compile(r"^(Why|Do|Unseen|Denied|Caution|Takes|Source): ", re.MULTILINE)


def explained(docstring: str) -> Explanation:
    """Take a rule's docstring apart; text before the first section is the question."""
    asks, *rest = _SECTION.split(docstring)
    sections = {name.lower(): " ".join(text.split()) for name, text in zip(rest[::2], rest[1::2], strict=True)}
    empty = dict.fromkeys(("why", "do", "unseen", "denied", "caution", "takes", "source"), "")
    return Explanation(asks=" ".join(asks.split()), **{**empty, **sections})
