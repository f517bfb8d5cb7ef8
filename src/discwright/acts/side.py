"""Plan one side from its audio, with the treatments that the title file asks for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from discwright.files.side_audio import SideAudio
from discwright.findings import sort_findings
from discwright.groove.equipment import Setup
from discwright.groove.treatment import Treating, TreatmentReport
from discwright.groove.treble import CurvatureLimit
from discwright.plan import Order, Plan, plan_side
from discwright.programme.title import Treatment

Progress = Callable[[str, float], None]
Single = NDArray[np.float32]

#: The limiter keeps this much inside what the tip can follow: the spiral moves a little once it has worked.
_WITHIN = 0.98


@dataclass(frozen=True)
class SidePlan:
    """A planned side and how its programme was treated.

    Attributes
    ----------
    plan : Plan
    treatments : tuple of Treatment
    limit : CurvatureLimit or None
        What the treble limiter worked to.
    reports : tuple of TreatmentReport
    """

    plan: Plan
    treatments: tuple[Treatment, ...]
    limit: CurvatureLimit | None
    reports: tuple[TreatmentReport, ...]

    def treated(self, audio: SideAudio) -> Iterator[Single]:
        """The programme as it is cut, read once more.

        Parameters
        ----------
        audio : SideAudio
        """
        if not self.treatments:
            return audio.blocks()
        return _treating(self.treatments, audio, self.limit, self.plan.setup).blocks(audio.blocks())

    def removed(self, audio: SideAudio) -> Iterator[Single]:
        """What the treatments took away: the programme less what is cut.

        Parameters
        ----------
        audio : SideAudio
        """
        return _difference(audio.blocks(), self.treated(audio))


def plan_audio(
    audio: SideAudio, order: Order, treatments: tuple[Treatment, ...] = (), progress: Progress | None = None
) -> SidePlan:
    """Plan a side; where its treble is limited, once without that to know the radius at every moment.

    Parameters
    ----------
    audio : SideAudio
    order : Order
    treatments : tuple of Treatment
    progress : callable, optional

    Returns
    -------
    SidePlan

    Raises
    ------
    CallError, SettingsError, AudioError, SolverError

    Notes
    -----
    The level is fitted before the treble is limited and kept: a limiter cannot argue for a louder side.
    """
    if not treatments:
        return SidePlan(plan_side(audio.blocks(), audio.programme, order, progress), (), None, ())
    filters = _filters(treatments)
    limited = len(filters) < len(treatments)
    first = _treating(filters, audio, None, order.setup)
    plan = plan_side(
        first.blocks(audio.blocks()), audio.programme, replace(order, clean=order.clean and not limited), progress
    )
    if not limited:
        return SidePlan(plan, treatments, None, first.reports)
    limit = curvature_limit(plan)
    chain = _treating(treatments, audio, limit, order.setup)
    told = tuple(one for one in plan.findings if one.code == "fit")
    again = replace(order, level_db=plan.level_db, clean=False)
    plan = plan_side(chain.blocks(audio.blocks()), audio.programme, again, progress)
    plan = replace(plan, findings=sort_findings([*plan.findings, *told]))
    return SidePlan(plan, treatments, limit, chain.reports)


def treated_as_planned(
    audio: SideAudio, order: Order, treatments: tuple[Treatment, ...], progress: Progress | None = None
) -> Iterator[Single]:
    """The programme of a side that was planned before, as it is cut.

    Parameters
    ----------
    audio : SideAudio
    order : Order
        With the level that was found then.
    treatments : tuple of Treatment
    progress : callable, optional

    Yields
    ------
    ndarray, shape (m, 2), float32

    Notes
    -----
    A treble limiter works to the spiral of the side without it: that is laid once more.
    """
    if not treatments:
        return audio.blocks()
    filters, limit = _filters(treatments), None
    if len(filters) < len(treatments):
        first = _treating(filters, audio, None, order.setup)
        limit = curvature_limit(plan_side(first.blocks(audio.blocks()), audio.programme, order, progress))
    return _treating(treatments, audio, limit, order.setup).blocks(audio.blocks())


def _filters(treatments: tuple[Treatment, ...]) -> tuple[Treatment, ...]:
    """All but the treble limiter, which needs to know the radius."""
    return tuple(one for one in treatments if one.kind != "treble_limit")


def curvature_limit(plan: Plan) -> CurvatureLimit:
    """Wall acceleration at 0 dB that the playing tip can follow at every moment of a plan.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    CurvatureLimit
        Source: a ≤ V²/R (Lewis and Hunt 1941).
    """
    rows, setup = plan.rows, plan.setup
    music = rows.music
    speed = 2 * np.pi * np.maximum(rows.radius[music], setup.disc.locked_radius) / setup.disc.turn_time
    gain = 10.0 ** (plan.level_db / 20.0)
    return CurvatureLimit(rows.time[music], _WITHIN * speed**2 / (setup.tip.side_radius * gain))


def _treating(
    treatments: tuple[Treatment, ...], audio: SideAudio, limit: CurvatureLimit | None, setup: Setup
) -> Treating:
    return Treating(treatments, audio.programme.sample_rate_hz, limit, corner=setup.practice.subsonic)


def _difference(first: Iterator[Single], second: Iterator[Single]) -> Iterator[Single]:
    """Sample by sample, whatever the sizes of the blocks on either side."""
    ahead = np.zeros((0, 2), dtype=np.float32)
    for block in second:
        while len(ahead) < len(block):
            ahead = np.concatenate([ahead, next(first)])
        yield ahead[: len(block)] - block
        ahead = ahead[len(block) :]
