"""What each event between press and dock does to the yard of its title."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from discwright.works import run_events as r
from discwright.works.chain import Line
from discwright.works.order_lines import OrderLine
from discwright.works.yard import Lot, Ordered, Packed, Restarted, Run, Yard, order_key


def yard_after(yard: Yard, line: Line) -> Yard:
    """The yard after an event that can be.

    Parameters
    ----------
    yard : Yard
    line : Line
    """
    event = line.event
    if isinstance(event, r.RunBegun):
        return yard.with_run(
            Run(line.part, event.edition, event.press, event.compound, dict(event.stampers), event.planned,
                begun=line.seq, begun_at=line.at, last_at=line.at)
        )  # fmt: skip
    if line.part in yard.runs:
        run = _TO_A_RUN[line.kind](yard.runs[line.part], event, line)
        return yard.with_run(replace(run, last_at=line.at))
    return _AT_THE_DOCK[line.kind](yard, event, line)


# A run -------------------------------------------------------------------------------------------------


def _first_off(run: Run, event: r.FirstOff, line: Line) -> Run:
    del line
    return replace(run, first_off=event.verdict)


def _pressed(run: Run, event: r.RunPressed, line: Line) -> Run:
    del line
    return replace(run, made=run.made + event.count, good=run.good + event.good)


def _inspected(run: Run, event: r.LotInspected, line: Line) -> Run:
    good = event.count - event.scrapped if event.verdict == r.ACCEPTED else 0
    lot = Lot(
        len(run.lots) + 1, event.count, event.verdict, event.results, event.defects, event.scrapped, "", good,
        event.level, line.seq, line.at, event.unsteady, event.reduced_agreed,
    )  # fmt: skip
    return replace(run, lots=(*run.lots, lot))


def _disposed(run: Run, event: r.LotDisposed, line: Line) -> Run:
    del line
    lots = [
        replace(one, disposition=event.disposition, good=event.good) if one.number == event.lot else one
        for one in run.lots
    ]
    return replace(run, lots=tuple(lots))


def _into(bins: dict[str, int], bin_: str, count: int) -> dict[str, int]:
    after = bins | {bin_: bins.get(bin_, 0) + count}
    return {name: held for name, held in after.items() if held}


def _stocked(run: Run, event: r.Stocked, line: Line) -> Run:
    del line
    return replace(run, bins=_into(run.bins, event.bin, event.count))


def _taken_out(run: Run, event: r.TakenOut, line: Line) -> Run:
    del line
    return replace(run, bins=_into(run.bins, event.bin, -event.count), out=run.out + event.count)


_TO_A_RUN: dict[str, Callable[[Run, Any, Line], Run]] = {
    "first_off": _first_off,
    "run_pressed": _pressed,
    "lot_inspected": _inspected,
    "lot_disposed": _disposed,
    "stocked": _stocked,
    "taken_out": _taken_out,
    "recalled": lambda run, event, line: replace(run, verdict="recalled"),
    "approved": lambda run, event, line: replace(run, verdict=""),
}


# The dock ----------------------------------------------------------------------------------------------


def _taken(yard: Yard, event: r.OrdersTaken, line: Line) -> Yard:
    orders = dict(yard.orders)
    for one in event.orders:
        orders[order_key(one["order"], one["edition"])] = Ordered(OrderLine(**one), seq=line.seq, at=line.at)
    return replace(yard, orders=orders)


def _cancelled(yard: Yard, event: r.OrderCancelled, line: Line) -> Yard:
    del line
    key = order_key(event.order, event.edition)
    return replace(yard, orders=yard.orders | {key: replace(yard.orders[key], cancelled=True)})


def _packed(yard: Yard, event: r.CartonsPacked, line: Line) -> Yard:
    runs, orders, cartons = dict(yard.runs), dict(yard.orders), dict(yard.cartons)
    for one in event.cartons:
        run, key = runs[one["run"]], order_key(one["order"], one["edition"])
        carton = cartons[one["sscc"]] = Packed(**one, at=line.at)
        bins = run.bins
        for bin_, count in carton.bins.items():
            bins = _into(bins, bin_, -count)
        runs[run.id] = replace(run, bins=bins, packed=run.packed + carton.count, last_at=line.at)
        orders[key] = replace(orders[key], packed=orders[key].packed + carton.count)
    return replace(yard, runs=runs, orders=orders, cartons=cartons)


def _opened(yard: Yard, event: r.CartonOpened, line: Line) -> Yard:
    carton = yard.cartons[event.sscc]
    run, key = yard.runs[carton.run], order_key(carton.order, carton.edition)
    order = yard.orders[key]
    back = replace(
        run, bins=_into(run.bins, event.bin, carton.count), packed=run.packed - carton.count, last_at=line.at
    )
    return replace(
        yard.with_run(back), cartons=yard.cartons | {carton.sscc: replace(carton, opened=True)},
        orders=yard.orders | {key: replace(order, packed=order.packed - carton.count)},
    )  # fmt: skip


def _loaded(yard: Yard, event: r.Loaded, line: Line) -> Yard:
    carton = yard.cartons[event.sscc]
    key = order_key(carton.order, carton.edition)
    gone = replace(carton, loaded_at=line.at, dock=event.dock, vehicle=event.vehicle)
    return replace(
        yard, cartons=yard.cartons | {carton.sscc: gone},
        orders=yard.orders | {key: replace(yard.orders[key], loaded=yard.orders[key].loaded + carton.count)},
    )  # fmt: skip


def _told(yard: Yard, event: r.AccountTold, line: Line) -> Yard:
    del line
    return replace(yard, told=tuple(dict.fromkeys((*yard.told, (event.account, event.run)))))


def _restarted(yard: Yard, event: r.InspectionRestarted, line: Line) -> Yard:
    again = Restarted(line.seq, event.edition, event.defect_class, event.why)
    return replace(yard, restarts=(*yard.restarts, again))


_AT_THE_DOCK: dict[str, Callable[[Yard, Any, Line], Yard]] = {
    "inspection_restarted": _restarted,
    "orders_taken": _taken,
    "order_cancelled": _cancelled,
    "cartons_packed": _packed,
    "carton_opened": _opened,
    "loaded": _loaded,
    "account_told": _told,
}
