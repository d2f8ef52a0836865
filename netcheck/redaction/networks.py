"""Where networks go. Stage: all networks of a case in, their new places out, worked out once.

The theory. What rules ask of addresses is whether one lies in a network, whether two masks make the same network, and
whether an address is the first or the last of its network. All of that stays true when every known network is moved as
a whole, with everything that lies in it: known networks are nested or apart (never half in one another), so they are a
tree. Its leaves are units (a /24 of IPv4, a /64 of IPv6) within which nothing moves. The tree is walked from its roots:
a root is a class of addresses, and its children are put at places of their own size within the class's target, without
two on one; then the children of each within its new place. A network at whose edge an address was really seen keeps
that edge: a child that holds the first or last address of its parent stays where it is in it, if that address occurs.

There is always room: children of one parent are put down from the largest to the smallest, on multiples of their size,
where each takes one place of its size and never splits another.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from netcheck.redaction.keyed import Key

_LONGEST_SEARCH = 1 << 17


class Block(NamedTuple):
    """A network: its first address, and how many bits of it are the network's."""

    base: int
    length: int


class Space:
    """The networks of one IP version (``bits``). ``roots`` says to which places a class goes, the first that has room;
    what is in no root stays as it is, and no network that reaches beyond its root is kept whole."""

    def __init__(self, key: Key, bits: int, unit: int, roots: Mapping[Block, Sequence[Block]]) -> None:
        self._key, self._bits, self._unit, self._roots = key, bits, unit, roots
        self._known: set[Block] = set()
        self._units: set[Block] = set()
        self._edges: set[int] = set()
        self._inside: dict[Block, list[Block]] = defaultdict(list)
        self._moved: dict[Block, Block] = {}
        self._taken: dict[int, set[int]] = defaultdict(set)

    def settle(self, addresses: Iterable[int], networks: Iterable[Block]) -> None:
        """Say what there is, and find a place for all of it."""
        self._edges = set(addresses)
        blocks = {self.around(each.base, min(each.length, self._unit)) for each in networks}
        self._known = {each for each in blocks if self._root(each)} | set(self._edged_roots(blocks))
        self._units = self._known | {each for each in map(self._unit_of, self._edges) if self._root(each)}
        for block in sorted(self._units - self._roots.keys()):
            self._inside[self._parent(block, self._units)].append(block)
        for root, targets in self._roots.items():
            self._settle_root(root, targets)

    def around(self, address: int, length: int) -> Block:
        """The network of this length that holds the address."""
        return Block(address >> (self._bits - length) << (self._bits - length), length)

    def moved(self, address: int) -> int:
        """Where the unit of an address is now, with the rest of the address as it was."""
        unit = self._unit_of(address)
        root = self._root(unit)
        if root is None:
            return address
        if unit not in self._moved:  # named in free text only
            self._settle_late(unit, root)
        return self._moved[unit].base | address & self._within(unit)

    def _edged_roots(self, blocks: set[Block]) -> Iterable[Block]:
        """Classes at the edge of a known network that reaches beyond them: what is its edge must stay the edge."""
        for root in self._roots:
            wider = [each for each in blocks if self._holds(each, root)]
            if any(root.base in {each.base, each.base | self._within(each) ^ self._within(root)} for each in wider):
                yield root

    def _unit_of(self, address: int) -> Block:
        return self.around(address, self._unit)

    def _within(self, block: Block) -> int:
        return (1 << (self._bits - block.length)) - 1

    def _holds(self, outer: Block, inner: Block) -> bool:
        return outer.length <= inner.length and self.around(inner.base, outer.length) == outer

    def _root(self, block: Block) -> Block | None:
        """The narrowest class that a network is in; None where it is in none, or reaches over several."""
        if any(self._holds(block, root) and block != root for root in self._roots):
            return None
        held = [root for root in self._roots if self._holds(root, block)]
        root = max(held, key=lambda each: each.length, default=None)
        return root if root is not None and self._roots[root] else None

    def _parent(self, block: Block, units: set[Block]) -> Block:
        root = self._root(block) or block
        outer = (self.around(block.base, length) for length in range(block.length - 1, root.length, -1))
        return next((each for each in outer if each in units), root)

    def _settle_root(self, root: Block, targets: Sequence[Block]) -> None:
        waiting = self._inside[root]
        while waiting:
            for target in targets:
                waiting = self._put(root, target, waiting)
            # What is too wide for its class is not kept whole: what lies in it is moved piece by piece.
            waiting = [inner for each in waiting for inner in self._pieces(each)]

    def _pieces(self, block: Block) -> list[Block]:
        if block.length == self._unit:
            raise ValueError("more networks than there are addresses to stand for them")
        return self._inside[block]

    def _settle_late(self, unit: Block, root: Block) -> None:
        parent = self._parent(unit, self._known)
        where = self._moved.get(parent)
        if where is None or self._put(parent, where, [unit]):
            for target in self._roots[root]:
                if not self._put(root, target, [unit]):
                    return
            raise ValueError("more networks than there are addresses to stand for them")

    def _put(self, parent: Block, target: Block, children: list[Block]) -> list[Block]:
        """Give each child a place in the target, and its own children theirs. Returns those for which there is none."""
        inner = [each for each in children if each.length >= target.length]
        left = [each for each in children if each.length < target.length]
        same_size = parent.length == target.length
        at_edge = [each for each in inner if same_size and self._is_at_edge(parent, each)]
        places = {each: target.base | each.base & self._within(parent) for each in at_edge}
        for child in at_edge:
            self._take(child, places[child])
        free = [each for each in inner if each not in places]
        for child in sorted(free, key=lambda each: (each.length, -len(self._own_edges(each)))):
            base = self._free(parent, target, child)
            if base is None:
                left.append(child)
            else:
                places[child] = base
                self._take(child, base)
        for child, base in places.items():
            self._moved[child] = Block(base, child.length)
            if child.length < self._unit:
                self._put_inner(child, self._moved[child])
        return left

    def _put_inner(self, parent: Block, target: Block) -> None:
        if self._put(parent, target, self._inside[parent]):
            raise ValueError("a network without room for what lies in it")

    def _take(self, child: Block, base: int) -> None:
        self._taken[child.length].add(base)

    def _is_at_edge(self, parent: Block, child: Block) -> bool:
        if parent not in self._known:
            return False
        return any(self.around(edge, child.length) == child for edge in self._own_edges(parent))

    def _free(self, parent: Block, target: Block, child: Block) -> int | None:
        slots = 1 << (child.length - target.length)
        size = self._bits - child.length
        start = self._key.below("network", f"{self._bits} {child.base} {child.length}", slots)
        for draws in ((True, True), (False, True), (False, False)):
            for slot in range(start, start + min(slots, _LONGEST_SEARCH)):
                base = target.base | slot % slots << size
                if not self._is_taken(target, child, base) and not self._is_unfit(parent, target, child, base, *draws):
                    return base
        return None

    def _is_taken(self, target: Block, child: Block, base: int) -> bool:
        """Does anything below the target overlap with it?"""
        for length, bases in self._taken.items():
            if target.length < length <= child.length and self.around(base, length).base in bases:
                return True
            if length > child.length and any(self.around(each, child.length).base == base for each in bases):
                return True
        return child.length == target.length and base in self._taken[child.length]

    def _is_unfit(self, parent: Block, target: Block, child: Block, base: int, other: bool, edge: bool) -> bool:
        """Would it fall on an original (``other``), or make an edge of the parent of an address that was none?"""
        if other and Block(base, child.length) in self._units:
            return True
        moved = {base | each & self._within(child) for each in self._own_edges(child)}
        return edge and parent in self._known and bool(moved & {target.base, target.base | self._within(target)})

    def _own_edges(self, block: Block) -> set[int]:
        """Its first and its last address, where they occur."""
        return {block.base, block.base | self._within(block)} & self._edges
