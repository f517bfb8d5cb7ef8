"""Which part of a family is guilty of a fault that was heard: exact probabilities on the tree, and what to play next.

A part carries the fault if it has it of its own, or if the part it was grown from carried it when it was grown. That
makes a Markov chain down the tree, so that two passes over the parts are enough: likelihoods from the leaves up,
posteriors from the root down. All in logarithms: thousands of plays multiply to numbers no float holds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.inspection.next_play import Nodes, next_play

Float = NDArray[np.float64]


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
        Probability that it was damaged there between one child and the next, or since the last.
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
    falls_bits : dict of str to float
        The same for a play of every part that can be played; in a family of more than 300 parts, of those that came
        near the best.
    since : dict of str to str
        From when on a part most likely has the fault it heads: empty for from its making on, otherwise when the last
        child was made, or the last play was, that was still without. It sorts among the dates that were given.
    """

    posterior: dict[str, float]
    carries: dict[str, float]
    none: float
    evidence_log: float
    next_test: str
    expected_fall_bits: float
    falls_bits: dict[str, float]
    since: dict[str, str]


@dataclass(frozen=True)
class _Tree:
    """The parts as nodes in preorder; a part that may have been damaged is a node for each stretch of its life."""

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
    plays = list(auditions)
    tree = _plant(members, plays)
    good, bad = _heard(members, plays, tree, detect, false_alarm)
    own, evidence = _upward(tree, good, bad)
    heads, clean = _downward(tree, own)
    names = [one.id for one in members]
    none = math.exp(float(np.sum(np.log1p(-np.minimum(own, 1.0 - 1e-300))))) if np.all(own < 1.0) else 0.0
    allowed = set(names if playable is None else playable)
    asked = [k for k, name in enumerate(names) if name in allowed]
    nodes = Nodes(np.array(tree.parent), np.array(tree.end), np.array(tree.now), clean)
    told = next_play(nodes, asked, detect, false_alarm)
    likeliest = [max(spans, key=lambda span: heads[span[1]])[0] for spans in tree.spans]
    return Guilt(
        {name: sum(heads[node] for _, node in spans) for name, spans in zip(names, tree.spans, strict=True)},
        {name: float(1.0 - clean[tree.now[k]]) for k, name in enumerate(names)},
        none, evidence, names[told.best] if told.best >= 0 else "", told.fall_bits,
        {names[k]: fall for k, fall in told.of_bits.items()}, dict(zip(names, likeliest, strict=True)),
    )  # fmt: skip


# The tree ----------------------------------------------------------------------------------------------


def _plant(members: Sequence[Member], auditions: Sequence[Audition]) -> _Tree:
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
    played: dict[str, set[str]] = {}
    for play in auditions:
        if play.at:
            played.setdefault(play.part, set()).add(play.at)
    tree = _Tree([], [], [], [], [-1] * len(members), [[] for _ in members])
    _grow(members, children, roots, played, tree)
    if len(set(tree.member)) < len(members):
        raise CallError("some parts descend from themselves; mend their parents.")
    return tree


@dataclass(frozen=True)
class _Stretch:
    """A time in the life of a part in which its state does not change: from when on, how likely it is faulty only now,
    and the children that were grown in it."""

    begin: str
    prior: float
    children: tuple[int, ...]


def _stretches(
    one: Member, children: Sequence[int], members: Sequence[Member], played: Iterable[str]
) -> list[_Stretch]:  # fmt: skip
    """The life of a part: a new stretch after each child, and after each play between one child and the next.

    The damage between one child and the next falls on either side of a play that lies between them.
    """
    if not one.damage:
        return [_Stretch("", one.prior, tuple(children))]
    ordered = sorted(children, key=lambda child: members[child].made)
    plays = sorted(played)
    found = [_Stretch("", one.prior, tuple(ordered[:1]))]
    for number, child in enumerate(ordered):
        made, following = members[child].made, ordered[number + 1 : number + 2]
        between = [at for at in plays if at >= made and not (following and at >= members[following[0]].made)]
        damage = -math.expm1(math.log1p(-one.damage) / (len(between) + 1)) if one.damage < 1 else 1.0
        # What comes right after a play sorts after it.
        begins = [made, *(f"{at}~" for at in between)]
        found += [_Stretch(begin, damage, ()) for begin in begins[:-1]]
        found.append(_Stretch(begins[-1], damage, tuple(following)))
    return found


def _grow(
    members: Sequence[Member], children: list[list[int]], roots: list[int], played: Mapping[str, set[str]], tree: _Tree
) -> None:
    """Lay the parts out in preorder, without recursion: a family may be deep."""
    lives: dict[int, list[_Stretch]] = {}
    # Either a part to be opened under a node, or a node to be closed.
    stack: list[tuple[int, int, int]] = [(k, -1, 0) for k in reversed(roots)]
    while stack:
        k, above, number = stack.pop()
        if k < 0:
            tree.end[above] = len(tree.member)
            continue
        if not number:
            lives[k] = _stretches(members[k], children[k], members, played.get(members[k].id, ()))
        stretch = lives[k][number]
        node = len(tree.member)
        tree.member.append(k)
        tree.parent.append(above)
        tree.prior.append(stretch.prior)
        tree.end.append(node + 1)
        tree.now[k] = node
        tree.spans[k].append((stretch.begin, node))
        stack.append((-1, node, 0))
        if number + 1 < len(lives[k]):
            stack.append((k, node, number + 1))
        stack.extend((child, node, 0) for child in reversed(stretch.children))


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
    below_bad, below_good = bad.tolist(), good.tolist()
    own = [0.0] * count
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
    return np.array(own), evidence


def _downward(tree: _Tree, own: Float) -> tuple[list[float], Float]:
    """From the roots down: how likely each node heads the fault, and how likely it carries none."""
    chances = own.tolist()
    heads, clean = [0.0] * len(chances), [1.0] * len(chances)
    for node, above in enumerate(tree.parent):
        before = clean[above] if above >= 0 else 1.0
        heads[node] = before * chances[node]
        clean[node] = before * (1.0 - chances[node])
    return heads, np.array(clean)
