"""The objects behind the page, as they came: for whoever has to see what the device really sent."""

from collections.abc import Iterator

from netcheck.case import Case
from netcheck.facts.raw import RawObjects, RawRow
from netcheck.report.device_said import seen
from netcheck.report.page import WIDTH, Page
from netcheck.report.safe import terminal
from netcheck.words import join


def render_objects(page: Page, case: Case) -> None:
    """Every object, grouped as it was asked."""
    groups = seen(case, RawObjects)
    page.head(f"Objects, as they came ({sum(len(each.fact.rows) for each in groups)})")
    if not groups:
        page.text("none: nobody answered who shows them", 2)
    for each in groups:
        page.gap()
        page.text(f"{each.who} {each.observation.source}", 2)
        before: tuple[str, str, int] | None = None
        for row in each.fact.rows:
            for indent, text in _lines(row, again=(row.name, row.syntax, row.depth) == before):
                page.text(text, indent)
            before = row.name, row.syntax, row.depth


def _lines(row: RawRow, *, again: bool) -> Iterator[tuple[int, str]]:
    """What it is and its value: on one line, where there is room. A further value of one attribute stands alone."""
    indent = 4 + 2 * row.depth
    what = join([row.name, row.oid if row.oid != row.name else "", row.syntax], "  ")
    value = f"hex {row.value}" if row.hex and row.value else row.value
    if again and value:
        yield indent + 2, value
    elif indent + len(terminal(f"{what}  {value}")) <= WIDTH:
        yield indent, f"{what}  {value}"
    else:
        yield indent, what
        yield indent + 2, value
