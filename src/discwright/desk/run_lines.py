"""What lines of runs and of the dock say besides their kind, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any

from discwright.desk.run_words import DISPOSITIONS, discs
from discwright.desk.words import figures
from discwright.works.chain import Line


def said_of_run(line: Line) -> str | None:
    """What a line of a run or of the dock says besides its kind; None for every other line.

    Parameters
    ----------
    line : Line
    """
    say = _SAID.get(line.kind)
    return None if say is None else ", ".join(one for one in say(line.data) if one)


def _begun(data: Mapping[str, Any]) -> list[str]:
    stampers = " and ".join(f"{number} (side {side})" for side, number in sorted(data.get("stampers", {}).items()))
    return [
        f"edition {data.get('edition', '')}", stampers, _if("press", data), _if("compound", data),
        f"{data['planned']} planned" if data.get("planned") else "",
    ]  # fmt: skip


def _first_off(data: Mapping[str, Any]) -> list[str]:
    missed = data.get("missed", ())
    told = [_number(data, "hole_mm", "hole {} mm"), _number(data, "off_centre_mm", "{} mm off centre"),
            _number(data, "weight_g", "{} g")]  # fmt: skip
    labels = f"labels {data['labels']}" if data.get("labels") else ""
    played = {"pass": "played to the end", "stop": "the play stopped it"}.get(data.get("played", ""), "")
    many = f"{len(missed)} limit{'' if len(missed) == 1 else 's'} missed" if missed else ""
    return ["passed" if data.get("verdict") == "pass" else "did not pass", *told, labels, played, many]


def _pressed(data: Mapping[str, Any]) -> list[str]:
    return [f"{data.get('count')} pressings, {data.get('good')} good"]


def _inspected(data: Mapping[str, Any]) -> list[str]:
    found = ", ".join(f"{one['found']} {one['class']} in {one['n']}" for one in data.get("results", ()))
    words = Counter(str(one.get("word")) for one in data.get("defects", ()))
    seen = ", ".join(f"{count} {word}" for word, count in sorted(words.items()))
    return [
        f"{data.get('verdict')}: {discs(data.get('count', 0))}, level {data.get('level', 'II')}", found, seen,
        f"{data['scrapped']} scrapped" if data.get("scrapped") else "",
        f"not steady: {data['unsteady']}" if data.get("unsteady") else "",
        f"reduced agreed by {data['reduced_agreed']}" if data.get("reduced_agreed") else "",
    ]  # fmt: skip


def _decided(data: Mapping[str, Any]) -> list[str]:
    word = DISPOSITIONS.get(data.get("disposition", ""), str(data.get("disposition")))
    return [f"lot {data.get('lot')} {word}, {data.get('good', 0)} good"]


def _moved(data: Mapping[str, Any]) -> list[str]:
    return [f"{discs(data.get('count', 0))}, bin {data.get('bin', '')}"]


def _restarted(data: Mapping[str, Any]) -> list[str]:
    return [f"edition {data.get('edition')}, {data.get('defect_class')} defects", str(data.get("why", ""))]


def _orders(data: Mapping[str, Any]) -> list[str]:
    orders = data.get("orders", ())
    many = f"{len(orders)} line{'' if len(orders) == 1 else 's'}, {discs(sum(one['count'] for one in orders))}"
    return [many, f"from {data['source']}" if data.get("source") else ""]


def _cartons(data: Mapping[str, Any]) -> list[str]:
    cartons = data.get("cartons", ())
    count = sum(sum(one["bins"].values()) for one in cartons)
    return [f"{len(cartons)} carton{'' if len(cartons) == 1 else 's'}, {discs(count)}"]


def _if(name: str, data: Mapping[str, Any]) -> str:
    return f"{name} {data[name]}" if data.get(name) else ""


def _number(data: Mapping[str, Any], name: str, words: str) -> str:
    return words.format(figures(data[name])) if data.get(name) is not None else ""


_SAID: dict[str, Callable[[Mapping[str, Any]], list[str]]] = {
    "run_begun": _begun,
    "first_off": _first_off,
    "run_pressed": _pressed,
    "lot_inspected": _inspected,
    "lot_disposed": _decided,
    "inspection_restarted": _restarted,
    "stocked": _moved,
    "taken_out": _moved,
    "orders_taken": _orders,
    "order_cancelled": lambda data: [f"order {data.get('order')}", f"edition {data.get('edition')}"],
    "cartons_packed": _cartons,
    "carton_opened": lambda data: [f"carton {data.get('sscc')}", f"its discs to bin {data.get('bin')}"],
    "loaded": lambda data: [f"carton {data.get('sscc')}", f"dock {data.get('dock')}", _if("vehicle", data)],
    "account_told": lambda data: [f"account {data.get('account')}", f"of run {data.get('run')}"],
}
