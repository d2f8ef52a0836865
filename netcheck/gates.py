"""The steps of a visit that cannot be taken back. A requirement blocks from its own gate on."""

from enum import StrEnum


class Gate(StrEnum):
    """In order; ``STANDING`` is apart: a device by itself, with no step to take."""

    SURVEY = "survey"
    FILL = "fill"
    SWAP = "swap"
    LEAVE = "leave"
    STANDING = "standing"

    def reached(self, at: "Gate") -> bool:
        """Does a requirement of this gate count when the question is asked at ``at``? All count for a standing device,
        which has no later step."""
        if at is Gate.STANDING:
            return True
        return self is not Gate.STANDING and _ORDER.index(self) <= _ORDER.index(at)


_ORDER = [Gate.SURVEY, Gate.FILL, Gate.SWAP, Gate.LEAVE]
