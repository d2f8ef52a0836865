"""What is wrong with something that the user gave us: every complaint at once, each with its place and its remedy."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Complaint:
    """One thing that is wrong: in which file, at which key, what was found there, what would be right."""

    where: str
    key: str
    found: str
    wanted: str

    def __str__(self) -> str:
        place = f"{self.where}: {self.key}" if self.key else self.where
        return f"{place}: found {self.found}; wanted {self.wanted}"


class InputError(Exception):
    """The command line or an input file is wrong (exit code 2). Carries all complaints, in the file's order."""

    def __init__(self, *complaints: Complaint) -> None:
        super().__init__("\n".join(map(str, complaints)))
        self.complaints = complaints
