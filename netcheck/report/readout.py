"""The block that is read over the phone, and the page of whoever typed it in."""

from netcheck.numbers import IDS
from netcheck.readout import FIELDS, NONE, ReadOut
from netcheck.report.page import Page, Paint, Tone
from netcheck.ruling import RULES
from netcheck.spoken import WORDS, spoken
from netcheck.verdict import State

_HANG = 13
_FIRST = 4
UNSAVED = "none, since nothing was saved (--save FILE)"
_TONES = {State.READY: Tone.GOOD, State.NOT_READY: Tone.BAD}
_PROVES = (
    "What was typed is what was printed, by its check; the code tells the file apart from others. Neither shows who"
    " made the file, nor that it is true."
)


def print_read_out(page: Page, said: ReadOut) -> None:
    """Fields first, then code and check as characters and as words."""
    fields = [f"{field} {getattr(said, field)}" for field in FIELDS if field != "code"]
    page.labelled("To read out:", "; ".join(fields[:_FIRST]) + ";", 0, _HANG)
    page.labelled("", "; ".join(fields[_FIRST:]), 0, _HANG)
    code = UNSAVED if said.code == NONE else f"{said.code}: {spoken(said.code)}"
    page.labelled("code", code, 2, _HANG)
    page.labelled("check", f"{said.check}: {' '.join(WORDS[each] for each in said.check)}", 2, _HANG)


def render_whole(maker: str, paint: Paint) -> str:
    """What the seal of a saved file shows that was judged; ``maker`` is the netcheck that saved it, "" where the answer
    does not rest on one file."""
    if not maker:
        return ""
    page = Page(paint)
    page.labelled("File:", f"whole as {maker} saved it; that does not show who made it", 0, _HANG)
    return str(page)


def render_heard(said: ReadOut, file: str, paint: Paint) -> str:
    """What the desk knows from a read-out; ``file`` is the name of the file that it fits, "" where there was none."""
    page = Page(paint)
    state = said.state
    answer = f"at gate {said.gate}, job {said.job}, as read out"
    page.answer(str(state).replace("-", " ").upper(), answer, _TONES.get(state, Tone.CARE))
    if numbers := said.numbers():
        page.head("In the way or missing, by number")
        for number in numbers:
            _by_number(page, number, unseen=state is State.CANNOT_TELL)
    measured, word, watch, missing = said.counts.split()
    page.gap()
    page.labelled(
        "New device:", f"serial ends {said.serial}, firmware {said.firmware}, address ends {said.address}", 0, _HANG
    )
    counted = f"{measured} fine by measurement, {word} on a person's word; {watch} to watch, {missing} missing"
    page.labelled("Counts:", counted, 0, _HANG)
    page.labelled("File:", _which(said, file), 0, _HANG)
    page.labelled("Proves:", _PROVES, 0, _HANG)
    return str(page)


def _by_number(page: Page, number: int, *, unseen: bool) -> None:
    """``unseen``: nothing is known to be wrong, so that what helps is what lets it be seen."""
    identity = IDS.get(number, "")
    if identity not in RULES:
        page.labelled(f"{number}", "not known here: their netcheck is newer; ask what its page says", 2, 7)
        return
    explanation = RULES[identity].explanation
    page.labelled(f"{number}", explanation.asks, 2, 7)
    page.labelled("do", (unseen and explanation.unseen) or explanation.do, 7, _HANG + 1)
    if explanation.caution:
        page.labelled("careful", explanation.caution, 7, _HANG + 1)
    page.labelled("more", f"netcheck explain {identity}", 7, _HANG + 1)


def _which(said: ReadOut, file: str) -> str:
    if file:
        return f"{file} is the one that was read out, whole as it was saved"
    if said.code == NONE:
        return "nothing was saved there; ask for --save FILE, so that there is something to send"
    return f"code {said.code}; when it comes: netcheck judge FILE --spoken"
