"""Was everything looked at that the step depends on?"""

from collections.abc import Iterator

from netcheck.move import Scope
from netcheck.ruling import Ruling, Wanted, met, rule, unproven


@rule("what the Move speaks of")
def named(scope: Wanted[Scope]) -> Iterator[Ruling]:
    """Does the Move name the old printer and the queue, so that they were looked at?

    Why: Unplugging a printer, or leaving, cannot be judged by the new printer alone.
    Do: Name them: [old] and [queue] in the Move, or --old and --queue.
    Source: common practice, no source.
    """
    for what, is_named, how in (
        ("old printer", scope.old, "Name it: [old] host in the Move, or --old."),
        ("queue", scope.queue, "Name it: [queue] name in the Move, or --queue."),
    ):
        if is_named:
            yield met(f"The {what} is named", item=what)
        else:
            yield unproven(f"The {what} is not named, so nobody looked at it", do=how, item=what)
