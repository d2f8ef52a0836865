"""A value that must never be printed, logged or saved."""


class Secret:
    """Holds a community or passphrase. Only ``reveal`` gives it out; ``repr`` and ``str`` never do."""

    __slots__ = ("_value",)

    def __init__(self, value: str) -> None:
        self._value = value

    def reveal(self) -> str:
        """The value itself, for the wire and nothing else."""
        return self._value

    def __repr__(self) -> str:
        return "Secret(...)"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Secret) and self._value == other._value

    def __hash__(self) -> int:
        return hash(self._value)
