"""How many to make where nobody knows how many will be asked for: the newsvendor's quantity for a normal demand."""

from __future__ import annotations

import math
from dataclasses import dataclass

from discwright.errors import CallError


@dataclass(frozen=True)
class Overrun:
    """What pays best on the average.

    Attributes
    ----------
    quantity : float
        Copies.
    cost : float
        Of what is too much and too little, on the average, in the money of the two costs.
    share : float
        Probability that it is enough: short / (short + over).
    """

    quantity: float
    cost: float
    share: float


def newsvendor(mean: float, deviation: float, short: float, over: float) -> Overrun:
    """The quantity at which one more is as likely to pay as not.

    Parameters
    ----------
    mean, deviation : float
        Of the demand, copies; it is taken as normal.
    short, over : float
        What a copy too few costs, and a copy too many.

    Returns
    -------
    Overrun
        Quantity F⁻¹(p/(p + h)) and cost (h + p)·σ·φ(z), with p = short and h = over.

    Raises
    ------
    CallError

    References
    ----------
    L. V. Snyder, Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed. (2019), section 4.3.
    """
    if not (short > 0.0 and over > 0.0 and math.isfinite(short + over)):
        raise CallError(
            f"costs of {short:g} for one too few and {over:g} for one too many weigh nothing; give both above 0."
        )
    if not (mean > 0.0 and deviation >= 0.0 and math.isfinite(mean + deviation)):
        raise CallError(f"a demand of {mean:g} ± {deviation:g} is none; give a mean above 0 and a deviation from 0 up.")
    from scipy.special import ndtri

    share = short / (short + over)
    z = float(ndtri(share))
    density = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return Overrun(mean + deviation * z, (short + over) * deviation * density, share)
