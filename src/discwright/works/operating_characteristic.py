"""Operating characteristic of a sampling plan: how likely a lot is accepted, by its percent nonconforming.

Both distributions have closed forms through incomplete beta and gamma functions; nothing is searched for. They are for
lots of one process, as the tables of ISO 2859-1 are; a lot that is inspected whole has a step instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from discwright.errors import CallError
from discwright.works.sampling import Plan

Method = Literal["binomial", "poisson"]
#: Probabilities of acceptance at which a plan is usually told, as in table 5 of the standard.
MARKS = (0.99, 0.95, 0.90, 0.50, 0.10, 0.05)
#: The curve is drawn down to this probability of acceptance, in so many equal steps.
_END, _STEPS = 0.001, 50
_PERCENT_DIGITS, _CHANCE_DIGITS = 6, 8


@dataclass(frozen=True)
class OcPoint:
    """A point of a characteristic.

    Attributes
    ----------
    percent_nonconforming : float
        Of the process; of the lot where it is inspected whole.
    accept_probability : float
        0 to 1.
    """

    percent_nonconforming: float
    accept_probability: float


def accept_probability(percent_nonconforming: float, n: int, accept: int, method: Method = "binomial") -> float:
    """Probability that a sample holds at most so many nonconforming discs.

    Parameters
    ----------
    percent_nonconforming : float
        Of the process, 0 to 100.
    n : int
        Discs in the sample.
    accept : int
        Acceptance number.
    method : {"binomial", "poisson"}
        Binomial: the cumulative binomial distribution, I(1 − p; n − Ac, Ac + 1). Poisson: its limit for few among many,
        Q(Ac + 1; n·p), by which the printed tables are made.

    Raises
    ------
    CallError
    """
    from scipy.special import bdtr, gammaincc

    _check(n, accept)
    if not 0.0 <= percent_nonconforming <= 100.0:
        raise CallError(f"{percent_nonconforming:g} percent nonconforming cannot be; give one from 0 to 100.")
    share = percent_nonconforming / 100.0
    if method == "poisson":
        return float(gammaincc(accept + 1, n * share))
    return float(bdtr(accept, n, share))


def percent_at(probability: float, n: int, accept: int, method: Method = "binomial") -> float:
    """Percent nonconforming that is accepted with a given probability.

    Parameters
    ----------
    probability : float
        More than 0 and less than 1.
    n : int
        Discs in the sample.
    accept : int
        Acceptance number.
    method : {"binomial", "poisson"}
        Poisson: p = χ²(1 − Pa; 2·Ac + 2) / (2n), the same as Q⁻¹(Ac + 1; Pa) / n.

    Raises
    ------
    CallError
    """
    from scipy.special import betaincinv, gammainccinv

    _check(n, accept)
    if not 0.0 < probability < 1.0:
        raise CallError(f"a probability of {probability:g} is met nowhere or everywhere; give one between 0 and 1.")
    if method == "poisson":
        return float(gammainccinv(accept + 1, probability)) / n * 100.0
    return float(betaincinv(accept + 1, n - accept, 1.0 - probability)) * 100.0


def whole_lot_accepted(percent_nonconforming: float, lot: int, accept: int) -> bool:
    """Whether a lot that is inspected whole is accepted: its nonconforming discs are all found and counted.

    Parameters
    ----------
    percent_nonconforming : float
        Of the lot; what is not a whole disc does not count.
    lot : int
        Discs in it.
    accept : int
        Acceptance number.
    """
    return int(percent_nonconforming / 100.0 * lot + 1e-9) <= accept


def plan_probability(plan: Plan, percent_nonconforming: float) -> float:
    """Probability that a plan accepts: binomial, or the step of full inspection.

    Parameters
    ----------
    plan : Plan
    percent_nonconforming : float
    """
    if plan.inspect_all:
        return float(whole_lot_accepted(percent_nonconforming, plan.lot, plan.accept))
    return accept_probability(percent_nonconforming, plan.n, plan.accept)


def marks(plan: Plan, method: Method = "binomial") -> tuple[OcPoint, ...]:
    """The points at which a plan accepts 99, 95, 90, 50, 10 and 5 of 100 lots; none where the lot is inspected whole.

    Parameters
    ----------
    plan : Plan
    method : {"binomial", "poisson"}
    """
    if plan.inspect_all:
        return ()
    return tuple(OcPoint(percent_at(one, plan.n, plan.accept, method), one) for one in MARKS)


def curve(plan: Plan) -> tuple[OcPoint, ...]:
    """A plan's characteristic from 0 to where it accepts less than 1 in 500 lots.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of OcPoint
        Rising in percent: equal steps, the AQL and the `marks`. Of a lot that is inspected whole: each count of
        nonconforming discs that is accepted, the first that is not, the AQL and 100 %.
    """
    if plan.inspect_all:
        counts = {100.0 * count / plan.lot for count in range(plan.accept + 2)}
        return tuple(
            OcPoint(percent, plan_probability(plan, percent)) for percent in sorted({*counts, plan.aql, 100.0})
        )
    end = percent_at(_END, plan.n, plan.accept)
    steps = [end * k / _STEPS for k in range(_STEPS + 1)]
    percents = {round(one, _PERCENT_DIGITS) for one in (*steps, *(m.percent_nonconforming for m in marks(plan)))}
    return tuple(
        OcPoint(percent, round(plan_probability(plan, percent), _CHANCE_DIGITS))
        for percent in sorted({*percents, plan.aql})
    )


def _check(n: int, accept: int) -> None:
    if not 0 <= accept < n:
        raise CallError(
            f"an acceptance number of {accept} does not go with a sample of {n}; give one from 0 to less than that."
        )
