"""What a title's orders need: pressings to start, metal, compound, labels, sleeves, press hours, and by when each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from discwright.acts.layout import choose_editions
from discwright.acts.press_disc import disc_needs
from discwright.acts.press_report import Asked, DiscNeeds
from discwright.acts.press_tape import tape_needs
from discwright.acts.press_tape_report import TapeNeeds
from discwright.errors import CallError
from discwright.files.press_settings import PressSettings, load_press
from discwright.files.title import load_title
from discwright.programme.title import TAPE, Edition, Title
from discwright.works.press import TreeLimits, check_probability, check_quantity, check_share
from discwright.works.stamper_life import StamperLife

DEFAULT_PROBABILITY = 0.95


@dataclass(frozen=True)
class PressOrder:
    """What is asked; what is None is taken from the title file or the press settings.

    Attributes
    ----------
    edition : str or None
        Its id; all of the title without.
    probability : float
        With which every count suffices.
    share : float or None
        Good ones among the pressings, or among the copies of a tape.
    stamper_life, life_cv : float or None
        Mean in pressings, and standard deviation over mean.
    stamper_share : float or None
        Good ones among the stampers that are grown.
    quantity : int or None
        In place of the title file's; for one edition.
    today : date or None
        The present day; the clock's without.
    """

    edition: str | None = None
    probability: float = DEFAULT_PROBABILITY
    share: float | None = None
    stamper_life: float | None = None
    life_cv: float | None = None
    stamper_share: float | None = None
    quantity: int | None = None
    today: date | None = None


@dataclass(frozen=True)
class PressReport:
    """What a title's orders need.

    Attributes
    ----------
    editions : tuple of DiscNeeds or TapeNeeds
    """

    editions: tuple[DiscNeeds | TapeNeeds, ...]

    def as_dict(self) -> dict[str, Any]:
        """The edition's own object where there is one, and a list of them otherwise."""
        if len(self.editions) == 1:
            return self.editions[0].as_dict()
        return {"editions": [one.as_dict() for one in self.editions]}


def press(title_file: str | Path, order: PressOrder | None = None, settings: Path | None = None) -> PressReport:
    """Reckon what the editions of a title need.

    Parameters
    ----------
    title_file : str or pathlib.Path
    order : PressOrder, optional
    settings : pathlib.Path, optional
        A house file that replaces some of the shipped press settings.

    Returns
    -------
    PressReport

    Raises
    ------
    CallError
        If something asked for cannot be.
    SettingsError
        If the title file or the house file cannot be used.
    """
    order = order or PressOrder()
    check_probability(order.probability)
    house, title = load_press(settings), load_title(title_file)
    editions = choose_editions(title, order.edition)
    _check(order, editions)
    today = order.today or date.today()
    return PressReport(tuple(_needs(one, title, order, house, today) for one in editions))


def _check(order: PressOrder, editions: Sequence[Edition]) -> None:
    if order.quantity is not None and len(editions) > 1:
        known = ", ".join(one.id for one in editions)
        raise CallError(f"a quantity is for one edition and the title has {known}; name one with --edition.")
    for one in editions:
        if order.quantity is None and one.quantity == 0:
            raise CallError(
                f"edition “{one.id}” has no quantity; write quantity = 300 below it in the title file, give "
                "--quantity, or name another edition with --edition."
            )
    of_stampers = (order.stamper_life, order.life_cv, order.stamper_share)
    if all(one.format == TAPE for one in editions) and any(one is not None for one in of_stampers):
        raise CallError("a tape is copied without stampers; leave out their life and their yield.")


def _needs(
    edition: Edition, title: Title, order: PressOrder, house: PressSettings, today: date
) -> DiscNeeds | TapeNeeds:
    tape = edition.format == TAPE
    share = order.share
    if share is None:
        share = house.tape.good_share if tape else house.press.good_share
    check_share(share, "copies" if tape else "pressings")
    good = edition.quantity if order.quantity is None else order.quantity
    check_quantity(good)
    due = date.fromisoformat(edition.due) if edition.due else None
    asked = Asked(edition, good, order.probability, share, due, today)
    if tape:
        return tape_needs(asked, title, house)
    parts = house.parts
    life = StamperLife(
        parts.stamper_life if order.stamper_life is None else order.stamper_life,
        parts.life_cv if order.life_cv is None else order.life_cv,
    )
    tree = TreeLimits(
        parts.stamper_share if order.stamper_share is None else order.stamper_share,
        parts.mother_share,
        parts.master_share,
        parts.stampers_per_mother,
        parts.mothers_per_master,
        parts.masters_per_lacquer,
    )
    return disc_needs(asked, life, tree, house)
