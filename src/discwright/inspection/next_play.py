"""Which part to play next: the one whose play is expected to lower the entropy of "this part carries it" most.

A play of part ``v`` changes the probability of every other part ``u`` by one factor, which depends on ``v`` and on the
last node that both have in common. In a large family the falls are first enclosed between two bounds: the entropy of
all parts below a node is a concave function of that factor, so a chord lies below it and a tangent above. Only parts
that can still be the best are then reckoned one by one; which part is found does not depend on the bounds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float64]
Int = NDArray[np.int_]
#: Up to so many parts every play is reckoned in full.
_ALL_IN_FULL = 300
#: Beyond so many nodes above a part, on the mean, bounds cost more than they save.
_DEEP = 30
#: Falls of entropy that differ by less are equal, bits: then the part named first is played. Bounds leave more room.
_TIE, _ROOM = 1e-9, 1e-6
#: Rows that are reckoned together, and points at which a bound touches.
_BLOCK, _TOUCHES = 256, 24
_TINY = np.finfo(np.float64).tiny


@dataclass(frozen=True)
class Nodes:
    """A family as nodes in preorder, weighed.

    Attributes
    ----------
    parent : ndarray of int, shape (n,)
        −1 for a root.
    end : ndarray of int, shape (n,)
        What lies below a node ends before this one.
    now : ndarray of int, shape (p,)
        The last node of each part.
    clean : ndarray, shape (n,)
        Probability that a node carries no fault.
    """

    parent: Int
    end: Int
    now: Int
    clean: Float


@dataclass(frozen=True)
class Falls:
    """What plays are expected to tell.

    Attributes
    ----------
    best : int
        Place of the part in the family; −1 where no play can tell anything.
    fall_bits : float
        What its play is expected to tell.
    of_bits : dict of int to float
        The same of every part that was reckoned in full; in a family of up to 300 that is all that were asked for.
    """

    best: int
    fall_bits: float
    of_bits: dict[int, float]


def next_play(nodes: Nodes, asked: Sequence[int], detect: float, false_alarm: float) -> Falls:
    """The part whose play is expected to tell most.

    Parameters
    ----------
    nodes : Nodes
    asked : sequence of int
        Places of the parts that can be played.
    detect, false_alarm : float
        Probability that a play of a part that carries the fault, or does not, reports it.

    Returns
    -------
    Falls
    """
    alike = _Alike(nodes)
    one_of = {alike.kind[int(nodes.now[k])]: k for k in reversed(asked)}  # of several alike the one named first
    if not one_of:
        return Falls(-1, 0.0, {})
    parts = np.array(sorted(one_of.values()))
    reports = ((detect, false_alarm), (1.0 - detect, 1.0 - false_alarm))
    if len(parts) > _ALL_IN_FULL:
        parts = parts[_may_be_best(nodes, nodes.now[parts], alike, reports)]
    falls = _falls(nodes, nodes.now[parts], alike, reports)
    told = {alike.kind[int(nodes.now[k])]: float(fall) for k, fall in zip(parts, falls, strict=True)}
    of = {k: told[alike.kind[int(nodes.now[k])]] for k in asked if alike.kind[int(nodes.now[k])] in told}
    most = float(falls.max())
    best = int(parts[int(np.argmax(falls >= most - _TIE))]) if most >= _TIE else -1
    return Falls(best, most if best >= 0 else 0.0, of)


class _Alike:
    """Parts that cannot be told apart: leaves of one parent, equally suspect. Each kind is reckoned once."""

    def __init__(self, nodes: Nodes) -> None:
        kinds: dict[tuple[int, float], int] = {}
        self.kind: dict[int, int] = {}
        first: list[int] = []
        many: list[int] = []
        parent, end, clean = nodes.parent.tolist(), nodes.end.tolist(), nodes.clean.tolist()
        for node in sorted(nodes.now.tolist()):
            leaf = end[node] == node + 1
            key = (parent[node], clean[node]) if leaf else (-2 - node, 0.0)
            number = kinds.setdefault(key, len(first))
            if number == len(first):
                first.append(node)
                many.append(0)
            many[number] += 1
            self.kind[node] = number
        #: One node of each kind, in preorder, and how many are like it.
        self.first = np.array(first)
        self.many = np.array(many, dtype=float)


_Reports = tuple[tuple[float, float], ...]


# One by one --------------------------------------------------------------------------------------------


def _falls(nodes: Nodes, asked: Int, alike: _Alike, reports: _Reports) -> Float:
    """Expected fall of the summed entropy for a play of each of some nodes, bits.

    With ``s`` the probability of being clean and ``a`` the last node that two have in common, ``s_u s_t / s_a`` is the
    probability that both are clean; a report changes each part's probability by the factor this gives. The played part
    itself is reckoned apart from those that are like it.
    """
    own = nodes.clean[alike.first]
    before = float(alike.many @ _entropy(own))
    falls = np.empty(len(asked))
    order = np.argsort(asked, kind="stable")  # in preorder, so that the walk below goes once through the family
    walk = _Common(nodes)
    for first in range(0, len(asked), _BLOCK):
        places = order[first : first + _BLOCK]
        block = asked[places]
        others = np.tile(alike.many, (len(block), 1))
        others[np.arange(len(block)), [alike.kind[node] for node in block.tolist()]] -= 1.0
        common = np.array([walk.with_node(node)[alike.first] for node in block.tolist()])
        s = nodes.clean[block]
        share = np.divide(s[:, None], common, out=np.zeros_like(common), where=common > 0)  # clean here if clean there
        after = np.zeros(len(block))
        for bad, good in reports:
            chance = good * s + bad * (1.0 - s)
            scale = np.divide(1.0, chance, out=np.zeros_like(chance), where=chance > 0)
            left = (share * (good - bad) + bad) * scale[:, None] * own
            after += chance * (np.einsum("ij,ij->i", others, _entropy(left)) + _entropy(s * good * scale))
        falls[places] = before - after
    return falls


class _Common:
    """How likely the last node is clean that a node has in common with every other; asked for in preorder."""

    def __init__(self, nodes: Nodes) -> None:
        self.parent, self.end, self.clean = nodes.parent.tolist(), nodes.end.tolist(), nodes.clean.tolist()
        self.row = np.ones(len(self.clean))
        self.path: list[int] = []

    def with_node(self, node: int) -> Float:
        """For one node, shape (n,); the array is used again. A leaf's own place holds its parent's."""
        while self.path and self.end[self.path[-1]] <= node:
            left = self.path.pop()
            self.row[left : self.end[left]] = self.clean[self.path[-1]] if self.path else 1.0
        down: list[int] = []
        one = node if self.end[node] > node + 1 else self.parent[node]
        while one >= 0 and (not self.path or one > self.path[-1]):
            down.append(one)
            one = self.parent[one]
        for one in reversed(down):
            self.path.append(one)
            self.row[one : self.end[one]] = self.clean[one]
        return self.row


def _entropy(p: Float) -> Float:
    """Binary entropy, bits."""
    p = np.clip(p, _TINY, 1.0)
    q = np.maximum(1.0 - p, _TINY)
    found: Float = -(p * np.log2(p) + q * np.log2(q))
    return found


# Which can still be the best ---------------------------------------------------------------------------


def _may_be_best(nodes: Nodes, asked: Int, alike: _Alike, reports: _Reports) -> Int:
    """Places among some nodes of those whose fall may be the greatest."""
    pairs = _Pairs(nodes, asked)
    if pairs.above is None:
        return np.arange(len(asked))
    s, common = nodes.clean[asked], nodes.clean[pairs.above]
    share = np.divide(s[pairs.of], common, out=np.zeros_like(common), where=common > 0)
    factors, weights, own = [], [], np.zeros(len(asked))
    leaf = nodes.end[asked] == asked + 1
    for bad, good in reports:
        chance = good * s + bad * (1.0 - s)
        scale = np.divide(1.0, chance, out=np.zeros_like(chance), where=chance > 0)
        factors.append((share * (good - bad) + bad) * scale[pairs.of])
        weights.append(chance[pairs.of])
        own += np.where(leaf, chance * _entropy(s * good * scale), 0.0)
    # What lies below the node in common and not below its child on the way to the part; what was there before.
    which = np.concatenate([*[pairs.above] * len(reports), *[pairs.child] * len(reports), pairs.root])
    low, high = _below(nodes, alike, which, np.concatenate([*factors, *factors, np.ones(len(asked))]))
    weight, of = np.concatenate(weights), np.tile(pairs.of, len(reports))
    count = len(weight)
    least = np.bincount(of, weight * (low[:count] - high[count : 2 * count]), len(asked)) + own
    most = np.bincount(of, weight * (high[:count] - low[count : 2 * count]), len(asked)) + own
    found: Int = np.flatnonzero(high[2 * count :] - least >= (low[2 * count :] - most).max() - _ROOM)
    return found


class _Pairs:
    """Every node that is asked about with each node above it, and the child of that one on the way down."""

    def __init__(self, nodes: Nodes, asked: Int) -> None:
        inner = np.flatnonzero(nodes.end[asked] > asked + 1)
        of, above, child = [inner], [asked[inner]], [np.full(len(inner), -1)]
        self.root = asked.copy()
        places, here, count = np.arange(len(asked)), asked, 0
        while len(places) and count <= _DEEP * len(asked):
            up = nodes.parent[here]
            self.root[places[up < 0]] = here[up < 0]
            places, here, up = places[up >= 0], here[up >= 0], up[up >= 0]
            of.append(places)
            above.append(up)
            child.append(here)
            here, count = up, count + len(places)
        self.of = np.concatenate(of)
        #: None for a family too deep for this to be worth while.
        self.above: Int | None = None if len(places) else np.concatenate(above)
        self.child = np.concatenate(child)


def _below(nodes: Nodes, alike: _Alike, which: Int, factor: Float) -> tuple[Float, Float]:
    """Bounds of the summed entropy of all parts below some nodes, each with its probability times a factor.

    Nothing lies below node −1; below a leaf lies one part, itself.
    """
    low = np.zeros(len(which))
    leaf = (which >= 0) & (nodes.end[which] == which + 1)
    low[leaf] = _entropy(nodes.clean[which[leaf]] * factor[leaf])
    high = low.copy()
    inner = np.flatnonzero((which >= 0) & ~leaf)
    order = inner[np.argsort(which[inner], kind="stable")]
    below, begin, times = np.unique(which[order], return_index=True, return_counts=True)
    first = np.searchsorted(alike.first, below)
    many = np.searchsorted(alike.first, nodes.end[below]) - first
    few = (times <= 2 * _TOUCHES) | (many <= _TOUCHES)
    places = order[np.repeat(few, times)]
    low[places] = high[places] = _one_by_one(
        nodes.clean[alike.first], alike.many, np.repeat(first[few], times[few]), np.repeat(many[few], times[few]),
        factor[places],
    )  # fmt: skip
    for k in np.flatnonzero(~few).tolist():
        places = order[begin[k] : begin[k] + times[k]]
        own = slice(first[k], first[k] + many[k])
        low[places], high[places] = _enclosed(nodes.clean[alike.first[own]], alike.many[own], factor[places])
    return low, high


def _one_by_one(clean: Float, many: Float, first: Int, count: Int, factor: Float) -> Float:
    """Summed entropies of stretches of parts, each stretch with a factor of its own."""
    if not len(first):
        return np.zeros(0)
    ends = np.cumsum(count)
    part = np.arange(ends[-1]) - np.repeat(ends - count - first, count)
    found: Float = np.add.reduceat(many[part] * _entropy(clean[part] * np.repeat(factor, count)), ends - count)
    return found


def _enclosed(clean: Float, many: Float, at: Float) -> tuple[Float, Float]:
    """Bounds of a sum of entropies as a function of one factor: chords below, tangents above."""
    touch = np.unique(np.sort(at)[np.linspace(0, len(at) - 1, _TOUCHES).astype(int)])
    p = np.clip(touch[:, None] * clean, _TINY, 1.0)
    q = np.maximum(1.0 - p, _TINY)
    log_p, log_q = np.log2(p), np.log2(q)
    value = -(p * log_p + q * log_q) @ many
    slope = ((log_q - log_p) * clean) @ many
    left = np.clip(np.searchsorted(touch, at, side="right") - 1, 0, max(0, len(touch) - 2))
    right = np.minimum(left + 1, len(touch) - 1)
    high = np.minimum(value[left] + slope[left] * (at - touch[left]), value[right] + slope[right] * (at - touch[right]))
    low = np.interp(at, touch, value)
    return low, np.maximum(low, high)
