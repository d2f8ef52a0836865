"""The whole scene: both printers, each with IPP, SNMP and a raw port, and the workstation's spooler with its queue."""

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from types import TracebackType
from typing import Final, Literal, Self

from .agents import Agent
from .devices import CORVID, HALDEN, Device
from .printers import Printer
from .raw import RawPort
from .site import JACKS, Site
from .spooler import Spooler

QUEUE: Final = "Plans"
Fault = Callable[[Device], Device]


@dataclass
class Machine:
    """One printer, whichever way it is asked."""

    printer: Printer
    agent: Agent
    raw: RawPort

    def become(self, device: Device) -> None:
        self.printer.become(device)
        self.agent.become(device)

    def suffer(self, fault: Fault) -> Device:
        """Have a fault; the description that now holds."""
        self.become(fault(self.printer.device))
        return self.printer.device

    def end(self) -> None:
        """Without power: every program gone, with no goodbye."""
        for program in (self.printer.program, self.agent.program, self.raw.program):
            program.kill()


class Office:
    """A Corvid 24S in use, a Halden 36R to replace it, and the queue `Plans`, which prints to the Corvid."""

    def __init__(self, *, announced: bool = False) -> None:
        self.site: Final = Site()
        self._announced: Final = announced
        self._cleaning = ExitStack()
        self.old: Machine
        self.new: Machine
        self.spooler: Spooler

    def __enter__(self) -> Self:
        with ExitStack() as stack:
            stack.enter_context(self.site)
            self.old = self._machine(stack, "old", CORVID)
            self.new = self._machine(stack, "new", HALDEN)
            self.spooler = stack.enter_context(Spooler(self.site))
            self.spooler.add(QUEUE, f"ipp://{JACKS['old'].address}/ipp/print", HALDEN)
            self._cleaning = stack.pop_all()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._cleaning.__exit__(kind, error, trace)

    def _machine(self, stack: ExitStack, node: Literal["old", "new"], device: Device) -> Machine:
        printer = stack.enter_context(Printer(self.site, node, device, announced=self._announced))
        agent = stack.enter_context(Agent(self.site, node, device))
        return Machine(printer, agent, stack.enter_context(RawPort(self.site, node)))

    def assert_no_byte_was_printed(self) -> None:
        """Nothing may ever be written to a raw port that nobody asked to print."""
        assert {"old": self.old.raw.received, "new": self.new.raw.received} == {"old": b"", "new": b""}
