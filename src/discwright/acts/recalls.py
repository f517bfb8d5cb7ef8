"""A recall: from a part or a run forward to every account that has its discs, and to what of them is still here."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from discwright.acts.runs import run_for
from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.works import run_events as r
from discwright.works.allocation import bin_order
from discwright.works.family import Family
from discwright.works.parts import read_number
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.store.look import families_beyond
from discwright.works.yard import Packed, Run, edition_code, order_key


@dataclass
class AccountReached:
    """An account that has discs of recalled runs, or was about to get them.

    Attributes
    ----------
    account, name, city, country : str
    gone, here : list of Packed
        Cartons that were loaded, and those still in the works.
    told : bool
        It was told of every run it has discs of.
    """

    account: str
    name: str = ""
    city: str = ""
    country: str = ""
    gone: list[Packed] = field(default_factory=list)
    here: list[Packed] = field(default_factory=list)
    told: bool = True

    def as_dict(self) -> dict[str, Any]:
        """Plain JSON values."""
        return {
            "account": self.account, "name": self.name, "city": self.city, "country": self.country,
            "sent": sum(one.count for one in self.gone), "here": sum(one.count for one in self.here),
            "cartons": [
                {"sscc": one.sscc, "run": one.run, "edition": one.edition, "count": one.count, "order": one.order,
                 "sent_at": one.loaded_at or None}
                for one in (*self.gone, *self.here)
            ],
            "told": self.told,
        }  # fmt: skip


@dataclass(frozen=True)
class RecallReport:
    """Everything a recall reaches.

    Attributes
    ----------
    number : str
        The part or run it was asked for; empty for all that is recalled.
    runs : tuple of (Family, Run, str)
        Each with the number of what was recalled or refused; empty where it is only asked what would be reached.
    accounts : tuple of AccountReached
        These and no others, by their numbers.
    """

    number: str
    runs: tuple[tuple[Family, Run, str], ...]
    accounts: tuple[AccountReached, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain JSON values."""
        return {
            "number": self.number or None,
            "runs": [
                {
                    "run": run.id, "title": family.title, "edition": edition_code(family.title, run.edition),
                    "stampers": run.stampers, "recalled": why or None, "in_stock": run.stocked, "made": run.made,
                }
                for family, run, why in self.runs
            ],
            "accounts": [one.as_dict() for one in self.accounts],
        }  # fmt: skip


def recalls(ledger: Ledger, number: str = "") -> RecallReport:
    """Whom a recall reaches.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of a part or a run, recalled or not: everything pressed with it, or with what was grown from it. Where it is
        left out, all runs that are recalled.

    Returns
    -------
    RecallReport

    Raises
    ------
    CallError
        If nothing has this number.
    """
    wanted = read_number(number) if number else ""
    families = (ledger.family_of(wanted),) if wanted else families_beyond(ledger)
    runs = [
        (family, run, family.recalled_for(run))
        for family in families
        for run in family.yard.runs.values()
        if (_comes_from(family, run, wanted) if wanted else family.recalled_for(run))
    ]
    return RecallReport(wanted, tuple(runs), _accounts(runs))


def _comes_from(family: Family, run: Run, number: str) -> bool:
    """The run has this number, or one of its stampers is this part or was grown from it."""
    own = [family.parts[one] for one in run.stampers.values()]
    above = {one.id for part in own for one in (part, *family.ancestors(part))}
    return run.id == number or number in above


def _accounts(runs: list[tuple[Family, Run, str]]) -> tuple[AccountReached, ...]:
    reached: dict[str, AccountReached] = {}
    for family, run, _ in runs:
        for one in family.yard.cartons.values():
            if one.run != run.id or one.opened:
                continue
            line = family.yard.orders[order_key(one.order, one.edition)].line
            known = reached.setdefault(one.account, AccountReached(one.account, line.name, line.city, line.country))
            (known.gone if one.loaded_at else known.here).append(one)
            known.told = known.told and (one.account, run.id) in family.yard.told
    return tuple(sorted(reached.values(), key=lambda one: (bin_order(one.account), one.account)))


def tell_account(ledger: Ledger, account: str, number: str, hand: Hand) -> Outcome:
    """Write down that an account was told of a recall.

    Parameters
    ----------
    ledger : Ledger
    account : str
    number : str
        Of the run.
    hand : Hand

    Raises
    ------
    CallError
        If the run is not recalled.
    """
    family, run = run_for(ledger, number)
    if not family.recalled_for(run):
        raise CallError(f"{run.id} is not recalled; recall it, or the part it comes from, first.")
    event = r.AccountTold(account=" ".join(account.split()), run=run.id)
    return ledger.append(hand.order(event, family.title))


def recall_run(ledger: Ledger, number: str, hand: Hand, *, note: str = "", lift: bool = False) -> Outcome:
    """Recall one run, or let it go again.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the run.
    hand : Hand
    note : str
        Why.
    lift : bool
        The recall was wrong; what a part was recalled for stays.
    """
    from discwright.works import events as e

    _, run = run_for(ledger, number)
    event: e.Event = e.Approved(note=note) if lift else e.Recalled(note=note)
    return ledger.append(hand.order(event, part=run.id))
