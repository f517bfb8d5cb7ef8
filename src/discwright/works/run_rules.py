"""What must not happen between press and dock: more discs than there are, a run nobody checked, a wrong dock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

from discwright.findings import Finding
from discwright.works import run_events as r
from discwright.works.against import failed, finding, unheard
from discwright.works.chain import Line
from discwright.works.family import Family
from discwright.works.lot_series import series_of
from discwright.works.parts import MASTER, RUN, STAMPER, is_number_of
from discwright.works.yard import Run, Yard, edition_code, order_key

#: Class of defects with which nothing is let go.
CRITICAL = "critical"
#: Format of an edition that no press makes.
TAPE = "tape"
_KINDS = frozenset(one.kind for one in r.RUN_EVENTS)
#: Events of parts that a run knows too.
_ALSO = ("recalled", "approved")


def is_of_a_run(line: Line) -> bool:
    """The line is about a run, an order or a carton, and not about metal.

    Parameters
    ----------
    line : Line
    """
    return line.kind in _KINDS or (line.kind != "corrected" and is_number_of(RUN, line.part))


# What cannot be ----------------------------------------------------------------------------------------


def cannot_run(family: Family, line: Line) -> str:
    """Why an event of a run or of the dock cannot be, or nothing.

    Parameters
    ----------
    family : Family
    line : Line
    """
    event, yard = line.event, family.yard
    if isinstance(event, r.RunBegun):
        return _cannot_begin(family, line, event)
    if line.kind in r.OF_A_RUN or line.kind in _ALSO:
        run = yard.runs.get(line.part)
        if run is None:
            return f"{line.part or 'no run'}: is no run of {line.title}; scan the card of the run."
        if line.kind == "approved" and run.verdict != "recalled":
            return f"{run.id} was not recalled, and a run needs no other approval; approve its stampers."
        return _CANNOT[line.kind](run, event) if line.kind in _CANNOT else ""
    if line.kind in r.OF_THE_DOCK:
        return _CANNOT_AT_DOCK[line.kind](family, event)
    return f"{line.part} is a run and cannot be that; scan a part."


def _cannot_begin(family: Family, line: Line, event: r.RunBegun) -> str:
    if not line.part or line.part in family.yard.runs or line.part in family.parts:
        return "A run needs a number that nothing has; let the ledger give it one."
    known = {str(one["id"]) for one in family.editions}
    if known and event.edition not in known:
        return f"{family.title} has no edition {event.edition}; its editions are {', '.join(sorted(known))}."
    tape = any(one["id"] == event.edition and one.get("format") == TAPE for one in family.editions)
    if tape and event.stampers:
        return f"Edition {event.edition} of {family.title} is copied to tape, without stampers; leave them out."
    if not tape and not event.stampers:
        return "A run needs its stampers; name one for each side."
    for side, number in event.stampers.items():
        part = family.parts.get(number)
        if part is None:
            return f"{number}: is no part of {line.title}; scan the stamper again."
        if part.kind not in (STAMPER, MASTER):
            return f"{number} is a {part.kind}, and nothing is pressed with it; scan a stamper."
        if (part.edition, part.side) != (event.edition, side):
            return f"{number} is side {part.side} of {part.edition}, not side {side} of {event.edition}; scan its pair."
        if part.state == "scrapped":
            return f"{number} was scrapped; scan another stamper."
    return ""


def _cannot_press(run: Run, event: r.RunPressed) -> str:
    del run
    if not event.count:
        return "No pressing is nothing to record; give the count."
    return f"{event.good} good of {event.count} cannot be; give no more good ones." if event.good > event.count else ""


def _cannot_inspect(run: Run, event: r.LotInspected) -> str:
    if not 1 <= event.count <= run.to_inspect:
        return f"{run.id} has {run.to_inspect} discs to inspect, not {event.count}; give a lot of these."
    if event.scrapped > event.count:
        return f"{event.scrapped} of {event.count} cannot be scrapped; count again."
    if not event.results:
        return "A lot is inspected class by class; give the result of one at least."
    refused = any(one["found"] > one["accept"] for one in event.results)
    if refused != (event.verdict == r.REFUSED):
        return f"The counts say {'refused' if refused else 'accepted'}, not {event.verdict}; look at them again."
    return ""


def _cannot_decide(run: Run, event: r.LotDisposed) -> str:
    lot = next((one for one in run.lots if one.number == event.lot), None)
    if lot is None:
        return f"{run.id} has no lot {event.lot}; its lots are 1 to {len(run.lots)}."
    if lot.verdict != r.REFUSED or lot.disposition:
        return f"Lot {event.lot} of {run.id} was {lot.disposition or lot.verdict}; there is nothing to decide."
    if event.disposition == r.RELEASED and any(one["class"] == CRITICAL and one["found"] for one in lot.results):
        return f"A critical defect was found in lot {event.lot} of {run.id}; sort it or scrap it."
    most = lot.count - lot.scrapped
    wanted = {r.SCRAPPED: 0, r.RELEASED: most}.get(event.disposition, event.good)
    if event.good != wanted or event.good > most:
        said = "at most" if event.disposition == r.SORTED else "just"
        limit = most if event.disposition == r.SORTED else wanted
        return f"A lot that is {event.disposition} leaves {said} {limit} good discs, not {event.good}; count again."
    return ""


def _cannot_stock(run: Run, event: r.Stocked) -> str:
    if not event.bin.strip():
        return "The bin has no name; say where the discs stand."
    if not 1 <= event.count <= run.to_stock:
        return f"{run.id} has {run.to_stock} accepted discs that are in no bin, not {event.count}; give no more."
    return ""


def _cannot_take_out(run: Run, event: r.TakenOut) -> str:
    there = run.bins.get(event.bin, 0)
    if not 1 <= event.count <= there:
        return f"Bin {event.bin} holds {there} of {run.id}, not {event.count}; count again."
    return ""


_CANNOT: dict[str, Callable[[Run, Any], str]] = {
    "run_pressed": _cannot_press,
    "lot_inspected": _cannot_inspect,
    "lot_disposed": _cannot_decide,
    "stocked": _cannot_stock,
    "taken_out": _cannot_take_out,
}


def _cannot_order(family: Family, event: r.OrdersTaken) -> str:
    known = {edition_code(family.title, str(one["id"])) for one in family.editions}
    met: set[str] = set()
    for one in event.orders:
        key, code = order_key(one["order"], one["edition"]), one["edition"]
        if code not in known:
            return f"{code[:60]}: is no edition of {family.title}; write one of {', '.join(sorted(known)) or 'none'}."
        if key in family.yard.orders or key in met:
            return f"Order {one['order'][:60]} has {code} already; give what is new another number, or cancel the old."
        if not one["count"]:
            return f"Order {one['order'][:60]} wants 0 of {code}; leave the line out."
        met.add(key)
    return "" if met else "No order is nothing to take; give one line at least."


def _cannot_cancel(family: Family, event: r.OrderCancelled) -> str:
    known = family.yard.orders.get(order_key(event.order, event.edition))
    if known is None:
        return f"Order {event.order[:60]} has no {event.edition[:60]}; look at the orders again."
    return "" if known.open else f"Order {event.order[:60]} waits for nothing more; there is nothing to cancel."


def _cannot_pack(family: Family, event: r.CartonsPacked) -> str:
    yard = family.yard
    there: Counter[tuple[str, str]] = Counter()
    wanted: Counter[str] = Counter()
    met: set[str] = set()
    for one in event.cartons:
        why = _no_carton(family, one) or ("twice here" if one["sscc"] in met else "")
        if why:
            return f"Carton {one['sscc'][:20]}: {why}; pack it anew."
        met.add(one["sscc"])
        for bin_, count in one["bins"].items():
            there[one["run"], bin_] += count
            wanted[order_key(one["order"], one["edition"])] += count
    for (run, bin_), count in there.items():
        if count > yard.runs[run].bins.get(bin_, 0):
            return f"Bin {bin_} holds {yard.runs[run].bins.get(bin_, 0)} of {run}, not {count}; pack anew."
    for key, count in wanted.items():
        if count > yard.orders[key].open:
            return f"Order {yard.orders[key].line.order} waits for {yard.orders[key].open}, not {count}; pack anew."
    return "" if met else "No carton is nothing to record; pack one at least."


def _no_carton(family: Family, one: dict[str, Any]) -> str:
    yard = family.yard
    run, order = yard.runs.get(one["run"]), yard.orders.get(order_key(one["order"], one["edition"]))
    if not one["sscc"] or not all(one["bins"].values()):
        return "has no number or nothing in it"
    if one["sscc"] in yard.cartons:
        return "its number was used before"
    if run is None or edition_code(family.title, run.edition) != one["edition"]:
        return f"{one['run'][:20]} is no run of {one['edition'][:40]}"
    if order is None or order.line.account != one["account"]:
        return f"order {one['order'][:40]} of account {one['account'][:40]} has no {one['edition'][:40]}"
    return ""


def _cannot_load(family: Family, event: r.Loaded) -> str:
    why = _not_here(family.yard, event.sscc)
    return why or ("" if event.dock.strip() else "The dock has no name; say from where it leaves.")


def _cannot_open(family: Family, event: r.CartonOpened) -> str:
    why = _not_here(family.yard, event.sscc)
    return why or ("" if event.bin.strip() else "The bin has no name; say where the discs go.")


def _not_here(yard: Yard, sscc: str) -> str:
    carton = yard.cartons.get(sscc)
    if carton is None:
        return f"{sscc[:20]}: is no carton that was packed here; look at its label."
    if carton.opened:
        return f"{sscc} was opened again and is no carton any more; take it off the dock."
    if carton.loaded_at:
        return f"{sscc} was loaded already at {carton.loaded_at[:16].replace('T', ' ')} UTC; scan the next one."
    return ""


def _cannot_tell(family: Family, event: r.AccountTold) -> str:
    own = any(one.account == event.account and one.run == event.run for one in family.yard.cartons.values())
    return "" if own else f"Account {event.account[:60]} has nothing of {event.run[:20]}; look at the list again."


def _cannot_restart(family: Family, event: r.InspectionRestarted) -> str:
    standing = series_of(family.yard, event.edition).get(event.defect_class)
    if standing is None or standing.state != "stopped":
        return f"Inspection of {event.edition[:40]} for {event.defect_class[:40]} is not stopped; go on with it."
    return "" if event.why.strip() else "A restart needs to say what was done; write it down."


_CANNOT_AT_DOCK: dict[str, Callable[[Family, Any], str]] = {
    "inspection_restarted": _cannot_restart,
    "orders_taken": _cannot_order,
    "order_cancelled": _cannot_cancel,
    "cartons_packed": _cannot_pack,
    "carton_opened": _cannot_open,
    "loaded": _cannot_load,
    "account_told": _cannot_tell,
}


# What is unsafe ----------------------------------------------------------------------------------------


def against_run(family: Family, line: Line) -> Iterator[Finding]:
    """Everything that speaks against a possible event of a run or of the dock.

    Parameters
    ----------
    family : Family
    line : Line
    """
    event = line.event
    if isinstance(event, r.RunBegun):
        for number in event.stampers.values():
            part = family.parts[number]
            yield from failed(family, part, line)
            yield from unheard(family, part, line)
            if part.state != "at_press":
                yield finding(
                    "not_at_press", "stop", line, f"{number} is at no press; record put_to_press first.",
                )  # fmt: skip
    elif isinstance(event, r.FirstOff):
        for one in event.missed:
            yield finding(
                "first_off", "note", line, f"{one['remedy']} Nothing is pressed before a first-off passes.",
                one["value"], one["limit"], one["unit"],
            )  # fmt: skip
    elif isinstance(event, r.RunPressed):
        run = family.yard.runs[line.part]
        if run.first_off != "pass":
            yield finding(
                "first_off", "stop", line,
                f"The first-off of {run.id} {'did not pass' if run.first_off else 'was not inspected'}; inspect one "
                "that passes first.",
            )  # fmt: skip
        yield from _recalled(family, run, line)
        yield from _worn(family, run, event, line)
    elif isinstance(event, r.Stocked):
        yield from _recalled(family, family.yard.runs[line.part], line)
    elif isinstance(event, r.CartonsPacked):
        for number in dict.fromkeys(one["run"] for one in event.cartons):
            yield from _recalled(family, family.yard.runs[number], line)
    elif isinstance(event, r.Loaded):
        yield from _wrong_dock(family, event, line)


def _recalled(family: Family, run: Run, line: Line) -> Iterator[Finding]:
    why = family.recalled_for(run)
    if why:
        whose = "it" if why == run.id else why
        yield finding(
            "recalled_run", "stop", line,
            f"{run.id} is recalled ({whose} was recalled or refused); set its discs aside and send none of them.",
        )  # fmt: skip


def _worn(family: Family, run: Run, event: r.RunPressed, line: Line) -> Iterator[Finding]:
    """A stamper has made more than its life while it is still on."""
    life = family.limits.press_life
    for number in run.stampers.values():
        made = family.pressings_of(family.parts[number]) + event.count
        if made > life:
            yield finding(
                "press_life", "warn", line,
                f"{number} made more pressings than its life; take it off, and listen to the last ones.",
                made, life, "pressings",
            )  # fmt: skip


def _wrong_dock(family: Family, event: r.Loaded, line: Line) -> Iterator[Finding]:
    carton = family.yard.cartons[event.sscc]
    yield from _recalled(family, family.yard.runs[carton.run], line)
    if carton.dock and carton.dock != event.dock:
        yield finding(
            "wrong_dock", "stop", line, f"{event.sscc} leaves from dock {carton.dock}, not {event.dock}; take it there."
        )
