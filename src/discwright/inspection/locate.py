"""Which part of a family is guilty of a fault that was heard: exact probabilities on the tree, and what to play next.

A part carries the fault if it has it of its own, or if the part it was grown from carried it when it was grown. That
makes a Markov chain down the tree, so that two passes over the parts are enough: likelihoods from the leaves up,
posteriors from the root down. All in logarithms: thousands of plays multiply to numbers no float holds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError

Float = NDArray[np.float64]
#: Up to so many parts every play is weighed in full precision; beyond, single precision picks these many best first.
_EXACT_PARTS, _SHORT_LIST = 300, 24
#: Falls of entropy that differ by less are equal, bits: then the part named first is played.
_TIE = 1e-9
_BLOCK = 256


@dataclass(frozen=True)
class Member:
    """A part of the family.

    Attributes
    ----------
    id, parent : str
        The parent is empty for a lacquer.
    prior : float
        Probability that it has a fault of its own at such a place from its making on.
    made : str
        When it was made, ISO 8601; empty where nobody knows.
    damage : float
        Probability that it was damaged there between one child and the next.
    """

    id: str
    parent: str
    prior: float
    made: str = ""
    damage: float = 0.0


@dataclass(frozen=True)
class Audition:
    """Plays of one part: a mother's own, a stamper's through its pressings.

    Attributes
    ----------
    part : str
    heard, of : int
        In how many of how many plays the fault was heard.
    at : str
        When, ISO 8601; empty for after everything else.
    """

    part: str
    heard: int
    of: int
    at: str = ""


@dataclass(frozen=True)
class Guilt:
    """Who may be guilty.

    Attributes
    ----------
    posterior : dict of str to float
        Probability that a part heads the fault on its path. Two parts in different branches can both head one, so these
        and `none` need not add up to 1.
    carries : dict of str to float
        Probability that a part has the fault now, of its own or by descent.
    none : float
        Probability that there is no fault at all.
    evidence_log : float
        Natural logarithm of the probability of what was heard.
    next_test : str
        The part whose next play is expected to tell most; empty where no play can tell anything.
    expected_fall_bits : float
        By how much it is expected to lower the entropy of `carries`, summed over all parts.
    """

    posterior: dict[str, float]
    carries: dict[str, float]
    none: float
    evidence_log: float
    next_test: str
    expected_fall_bits: float


@dataclass(frozen=True)
class _Tree:
    """The parts as nodes in preorder; a part that may have been damaged between children is a node for each stretch."""

    member: list[int]
    parent: list[int]
    end: list[int]
    prior: list[float]
    #: The last node of each part: as it is now.
    now: list[int]
    #: First nodes and the times at which each further one begins, for each part.
    spans: list[list[tuple[str, int]]]


def locate(
    members: Sequence[Member], auditions: Iterable[Audition], detect: float, false_alarm: float,
    playable: Iterable[str] | None = None,
) -> Guilt:  # fmt: skip
    """Weigh every part of a family.

    Parameters
    ----------
    members : sequence of Member
        One or several trees, in any order.
    auditions : iterable of Audition
    detect, false_alarm : float
        Probability that one play of a part that carries the fault, or does not, reports it.
    playable : iterable of str, optional
        Parts that can be played next; all without it.

    Returns
    -------
    Guilt

    Raises
    ------
    CallError
        If the family is no tree, a number is no probability, or what was heard cannot be.
    """
    if not 0.0 <= false_alarm < detect <= 1.0:
        raise CallError("false_alarm must be at least 0 and below detect, and detect at most 1; mend the case.")
    tree = _plant(members)
    good, bad = _heard(members, auditions, tree, detect, false_alarm)
    own, evidence = _upward(tree, good, bad)
    parts = len(members)
    clean = np.ones(len(tree.member))
    posterior = [0.0] * parts
    for node, above in enumerate(tree.parent):
        before = clean[above] if above >= 0 else 1.0
        posterior[tree.member[node]] += float(before * own[node])
        clean[node] = before * (1.0 - own[node])
    names = [one.id for one in members]
    none = math.exp(float(np.sum(np.log1p(-np.minimum(own, 1.0 - 1e-300))))) if np.all(own < 1.0) else 0.0
    allowed = set(names if playable is None else playable)
    asked = [k for k, name in enumerate(names) if name in allowed]
    best, fall = _next(tree, clean, asked, detect, false_alarm)
    return Guilt(
        dict(zip(names, posterior, strict=True)),
        {name: float(1.0 - clean[tree.now[k]]) for k, name in enumerate(names)},
        none, evidence, names[best] if best >= 0 else "", fall,
    )  # fmt: skip


# The tree ----------------------------------------------------------------------------------------------


def _plant(members: Sequence[Member]) -> _Tree:
    place = {one.id: k for k, one in enumerate(members)}
    if not members:
        raise CallError("the family has no parts; name at least one.")
    if len(place) < len(members):
        raise CallError("two parts have the same id; give each its own.")
    children: list[list[int]] = [[] for _ in members]
    roots: list[int] = []
    for k, one in enumerate(members):
        if not (0.0 <= one.prior <= 1.0 and 0.0 <= one.damage <= 1.0):
            raise CallError(f"{one.id}: its prior is no probability; write a number from 0 to 1.")
        if not one.parent:
            roots.append(k)
        elif one.parent not in place:
            raise CallError(f"{one.id}: its parent {one.parent} is not in the family; add it, or leave the parent out.")
        else:
            children[place[one.parent]].append(k)
    tree = _Tree([], [], [], [], [-1] * len(members), [[] for _ in members])
    _grow(members, children, roots, tree)
    if len(set(tree.member)) < len(members):
        raise CallError("some parts descend from themselves; mend their parents.")
    return tree


def _grow(members: Sequence[Member], children: list[list[int]], roots: list[int], tree: _Tree) -> None:
    """Lay the parts out in preorder, without recursion: a family may be deep."""
    # Either a part to be opened under a node, or a node to be closed.
    stack: list[tuple[int, int, int]] = [(k, -1, 0) for k in reversed(roots)]
    while stack:
        k, above, stretch = stack.pop()
        if k < 0:
            tree.end[above] = len(tree.member)
            continue
        one = members[k]
        ordered = sorted(children[k], key=lambda c: members[c].made) if one.damage else children[k]
        node = len(tree.member)
        tree.member.append(k)
        tree.parent.append(above)
        tree.prior.append(one.damage if stretch else one.prior)
        tree.end.append(node + 1)
        tree.now[k] = node
        begin = members[ordered[stretch - 1]].made if stretch else ""
        tree.spans[k].append((begin, node))
        stack.append((-1, node, 0))
        if not one.damage:
            stack.extend((c, node, 0) for c in reversed(ordered))
            continue
        if stretch < len(ordered):  # after this child it may have been damaged
            stack.append((k, node, stretch + 1))
            stack.append((ordered[stretch], node, 0))


def _heard(
    members: Sequence[Member], auditions: Iterable[Audition], tree: _Tree, detect: float, false_alarm: float
) -> tuple[Float, Float]:
    """Log likelihood of the plays of each node, if it is good and if it is bad."""
    place = {one.id: k for k, one in enumerate(members)}
    good, bad = np.zeros(len(tree.member)), np.zeros(len(tree.member))
    for play in auditions:
        if play.part not in place:
            raise CallError(f"{play.part}: was played and is not in the family; add it, or leave the play out.")
        if not 0 <= play.heard <= play.of:
            raise CallError(f"{play.part}: heard {play.heard} times in {play.of} plays; mend the case.")
        spans = tree.spans[place[play.part]]
        node = next((n for begin, n in reversed(spans) if not play.at or begin <= play.at), spans[0][1])
        good[node] += _log_likelihood(play, false_alarm)
        bad[node] += _log_likelihood(play, detect)
    return good, bad


def _log_likelihood(play: Audition, chance: float) -> float:
    """Of a run of plays; the order is known, so there is no binomial factor."""
    told = 0.0
    for count, p in ((play.heard, chance), (play.of - play.heard, 1.0 - chance)):
        if count:
            told += count * math.log(p) if p > 0 else -math.inf
    return told


def _upward(tree: _Tree, good: Float, bad: Float) -> tuple[Float, float]:
    """From the leaves up: how likely each node has a fault of its own, given all that was heard and a clean parent.

    ``B`` is the likelihood of everything below a node that is bad already, ``C`` that below a clean parent:
    ``C = prior * B + (1 - prior) * good * product of the children's C``.
    """
    count = len(tree.member)
    below_bad, below_good = bad.copy(), good.copy()
    own = np.zeros(count)
    evidence = 0.0
    for node in range(count - 1, -1, -1):
        prior = tree.prior[node]
        faulty = math.log(prior) + below_bad[node] if prior > 0 else -math.inf
        whole = math.log1p(-prior) + below_good[node] if prior < 1 else -math.inf
        most = max(faulty, whole)
        if most == -math.inf:
            raise CallError(
                "what was heard cannot be with these chances; let false_alarm be above 0 or detect below 1."
            )
        both = most + math.log(math.exp(faulty - most) + math.exp(whole - most))
        own[node] = math.exp(faulty - both)
        above = tree.parent[node]
        if above >= 0:
            below_bad[above] += below_bad[node]
            below_good[above] += both
        else:
            evidence += both
    return own, evidence


# What to play next -------------------------------------------------------------------------------------


def _next(tree: _Tree, clean: Float, asked: Sequence[int], detect: float, false_alarm: float) -> tuple[int, float]:
    """The part whose play is expected to lower the summed entropy most, and by how many bits."""
    alike = _Alike(tree, clean)
    asked_of = {alike.kind[tree.now[k]]: k for k in reversed(asked)}  # of several alike the one named first
    if not asked_of:
        return -1, 0.0
    parts = sorted(asked_of.values())
    nodes = np.array([tree.now[k] for k in parts])
    chances = (detect, false_alarm)
    if len(nodes) <= _EXACT_PARTS:
        falls = _falls(tree, clean, nodes, alike, chances, np.float64)
    else:
        rough = _falls(tree, clean, nodes, alike, chances, np.float32)
        short = np.sort(np.argsort(-rough, kind="stable")[:_SHORT_LIST])
        falls = np.full(len(nodes), -np.inf)
        falls[short] = _falls(tree, clean, nodes[short], alike, chances, np.float64)
    most = float(falls.max())
    if most < _TIE:
        return -1, 0.0
    return parts[int(np.argmax(falls >= most - _TIE))], most


class _Alike:
    """Parts that cannot be told apart: leaves of one parent, equally suspect. Each kind is reckoned once."""

    def __init__(self, tree: _Tree, clean: Float) -> None:
        kinds: dict[tuple[int, float], int] = {}
        self.kind: dict[int, int] = {}
        first: list[int] = []
        many: list[int] = []
        for node in sorted(tree.now):
            leaf = tree.end[node] == node + 1
            key = (tree.parent[node], float(clean[node])) if leaf else (-2 - node, 0.0)
            number = kinds.setdefault(key, len(first))
            if number == len(first):
                first.append(node)
                many.append(0)
            many[number] += 1
            self.kind[node] = number
        self.first = np.array(first)
        self.many = np.array(many, dtype=float)


def _falls(
    tree: _Tree, clean: Float, nodes: NDArray[np.int_], alike: _Alike, chances: tuple[float, float], kind: Any
) -> Float:
    """Expected fall of the summed entropy for a play of each of some nodes, bits.

    With ``s`` the probability of being clean and ``a`` the last node that two have in common, ``s_u s_t / s_a`` is the
    probability that both are clean; a report changes each part's probability by the factor this gives. The played part
    itself is reckoned apart from those that are like it.
    """
    detect, false_alarm = chances
    own = clean[alike.first].astype(kind)
    before = float(alike.many @ _entropy(clean[alike.first].copy()))
    falls = np.empty(len(nodes))
    for first in range(0, len(nodes), _BLOCK):
        block = nodes[first : first + _BLOCK]
        others = np.tile(alike.many.astype(kind), (len(block), 1))
        others[np.arange(len(block)), [alike.kind[node] for node in block.tolist()]] -= 1.0
        common = _common(tree, clean, block)[:, alike.first].astype(kind)
        s = clean[block].astype(kind)[:, None]
        share = np.divide(s, common, out=np.zeros_like(common), where=common > 0)  # clean here, given clean there
        after = np.zeros(len(block))
        for bad, good in ((detect, false_alarm), (1.0 - detect, 1.0 - false_alarm)):
            chance = good * clean[block] + bad * (1.0 - clean[block])
            scale = np.divide(1.0, chance, out=np.zeros_like(chance), where=chance > 0)
            left = share * kind(good - bad)
            left += kind(bad)
            left *= scale.astype(kind)[:, None]
            left *= own
            after += chance * (np.einsum("ij,ij->i", others, _entropy(left)) + _entropy(clean[block] * good * scale))
        falls[first : first + _BLOCK] = before - after
    return falls


def _common(tree: _Tree, clean: Float, nodes: NDArray[np.int_]) -> Float:
    """How likely the last node is clean that each of some nodes has in common with every other, shape (k, n)."""
    found = np.ones((len(nodes), len(clean)))
    for row, node in enumerate(nodes.tolist()):
        path = [node] if tree.end[node] > node + 1 else []
        above = tree.parent[node]
        while above >= 0:
            path.append(above)
            above = tree.parent[above]
        for one in reversed(path):
            found[row, one : tree.end[one]] = clean[one]
    return found


def _entropy(p: Any) -> Any:
    """Binary entropy, bits; the array is used up."""
    tiny = np.finfo(p.dtype).tiny
    np.clip(p, tiny, 1.0, out=p)
    q = np.maximum(1 - p, tiny)
    told = np.log2(p)
    told *= p
    q *= np.log2(q)
    told += q
    return np.negative(told, out=told)
