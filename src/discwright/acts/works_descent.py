"""One number and the line it stands in: a part, a run or a carton, back to the plan and forward to the account."""

from __future__ import annotations

from typing import Any

from discwright.acts.loading import carton_descent, run_descent
from discwright.acts.recalls import recalls
from discwright.acts.runs import run_for
from discwright.acts.works_look import trace
from discwright.works.gs1 import SSCC_DIGITS
from discwright.works.parts import RUN, is_number_of, looks_like_number, read_number
from discwright.works.store.ledger import Ledger


def descent(ledger: Ledger, number: str) -> dict[str, Any]:
    """Where something comes from, and what came of it.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of a part, a run or a carton, as it was typed or scanned.

    Returns
    -------
    dict
        Of a part as :func:`discwright.acts.works_look.trace` has it; of a run and a carton as
        :func:`discwright.acts.loading.run_descent` and :func:`discwright.acts.loading.carton_descent`, a run with
        ``accounts`` that have its discs.

    Raises
    ------
    CallError
        If nothing has this number.
    """
    if sum(letter.isdigit() for letter in number) >= SSCC_DIGITS:  # no other number is as long
        return carton_descent(ledger, number)
    if looks_like_number(number) and is_number_of(RUN, read_number(number)):
        family, run = run_for(ledger, number)
        reached = recalls(ledger, run.id)
        return run_descent(family, run) | {"accounts": [one.as_dict() for one in reached.accounts]}
    return trace(ledger, number)
