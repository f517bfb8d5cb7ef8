"""Anything that can happen at a works, chosen by numbers: possible, unsafe and impossible, accepted and put right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import strategies as st

from discwright.works import events as e
from discwright.works.chain import BEGIN, Line, linked
from discwright.works.family import STATES, Family
from discwright.works.history import step
from discwright.works.order_lines import OrderLine
from discwright.works.parts import GROWS, KINDS, part_number
from discwright.works.run_events import OF_A_RUN, RUN_EVENTS
from discwright.works.store.putting_right import put_right

TITLE = "VK 77"
#: Which event, which part, and how.
Choice = tuple[int, int, int]
choices = st.lists(st.tuples(st.integers(0, 99), st.integers(0, 30), st.integers(0, 23)), max_size=60)
_DATA: dict[str, dict[str, Any]] = {
    "test_cut_measured": {"width_um": 50.0},
    "checked_under_the_microscope": {"marks_read": "VK M1"},
    "handed_over": {"to": "plating"},
    "weighed": {"mass_g": 171.25},
    "measured": {"thickness_um": 204.0},
    "test_played": {"count": 2},
    "put_to_press": {"press": "press 1"},
    "taken_off": {"count": 700},
    "vaulted": {"place": "shelf ø 3"},
}
_BEYOND = frozenset(one.kind for one in RUN_EVENTS)
#: Birth and film come often, so that families grow.
_KINDS = (
    *("lacquer_cut", "plated", "plated", "passivated", "plated", "passivated", "corrected", "separated", "approved"),
    *(kind for kind in e.EVENTS if kind not in ("title_taken_in", "lacquer_cut")),
)


def happening(family: Family, lines: Sequence[Line], choice: Choice) -> tuple[str, str, dict[str, Any], str]:
    """Kind, part, data and acceptance of something that may happen next to a family; births have no part yet."""
    which, whose, how = choice
    accepted = "known, and agreed" if how % 3 == 0 else ""
    if not lines or (not family.taken_at and which % 4 == 0):
        sides = {"id": "lp", "format": "12in-33", "quantity": 900, "due": "2031-01-31", "sides": ["A", "B"]}
        return "title_taken_in", "", {"name": "Harbour Lights", "editions": [sides], "limits": {"press_life": 1000}}, ""
    kind = _KINDS[which % len(_KINDS)]
    part = list(family.parts)[whose % len(family.parts)] if family.parts else "ST9999-0"
    programme = {"fingerprint": f"{how:064x}", "programme_sha256": "a" * 64 if how % 5 else "b" * 64}
    if kind == "plan_kept":
        return kind, "", {"edition": "lp", "side": "AB"[how % 2], **programme}, accepted
    if kind == "lacquer_cut":
        cut = {"edition": "lp", "side": "AB"[how % 2], "lacquer_batch": f"L-{how}", "mark": "VK" if how % 4 else ""}
        return kind, "", cut | programme, accepted
    if kind == "plated":
        parent = family.parts.get(part)
        child = GROWS.get(parent.kind, "stamper") if parent and how % 7 else KINDS[how % 4]
        return kind, "", {"parent": part, "part_kind": child, "mark": f"M{how}" if how % 2 else ""}, accepted
    if kind in _BEYOND:
        run = list(family.yard.runs)[whose % len(family.yard.runs)] if family.yard.runs else "RU9999-9"
        of_it = run if kind in OF_A_RUN else ""
        return kind, of_it, beyond(family, kind, run, how), accepted
    if kind == "recalled" and family.yard.runs and how % 5 == 0:
        part = list(family.yard.runs)[whose % len(family.yard.runs)]
    if kind == "corrected":
        wrong = lines[(whose * 24 + how) % len(lines)]
        instead = dict(wrong.data) | {"note": f"put right {how}"} if how % 3 == 1 else None
        return kind, wrong.part, {"seq": wrong.seq, "instead": instead}, ""
    return kind, "" if kind in e.OF_A_TITLE else part, dict(_DATA.get(kind, {})), accepted


def beyond(family: Family, kind: str, run: str, how: int) -> dict[str, Any]:
    """What may be said of a run, an order or a carton."""
    yard = family.yard
    known, orders, cartons = yard.runs.get(run), list(yard.orders.values()), list(yard.cartons)
    there = known.bins if known is not None else {}
    bin_ = list(there)[how % len(there)] if there else "A-1"
    order = orders[how % len(orders)].line if orders else OrderLine("1", "K", "", "", "", "", "", "", "", "x", 1)
    own = [id_ for id_, part in family.parts.items() if part.kind in ("stamper", "master")]
    sides = {family.parts[id_].side: id_ for id_ in own[how % 3 :]}
    count = 30 + how
    carton = {
        "sscc": f"{len(cartons) + how % 2:018d}", "order": order.order, "account": order.account,
        "edition": order.edition, "run": run, "bins": {bin_: 1 + how % 25}, "dock": "1",
    }  # fmt: skip
    result = {"class": "major", "aql": "1.0", "n": 13, "accept": 1, "reject": 2, "found": how % 4, "inspection": ""}
    verdict = "refused" if how % 4 > 1 else "accepted"
    sscc = cartons[how % len(cartons)] if cartons else "0" * 18
    taken = {one: str(how) for one in ("name", "address_1", "address_2", "city", "region", "postcode", "country")}
    return {
        "run_begun": {"edition": "lp", "stampers": sides or {"A": "ST9999-0"}, "press": "press 1"},
        "first_off": {"hole_mm": 7.3, "off_centre_mm": 0.1, "weight_g": 141.0, "labels": "right", "marks_read": {},
                      "played": "pass", "verdict": "pass" if how % 4 else "stop"},
        "run_pressed": {"count": 100 + how, "good": 99 + how - how % 7},
        "lot_inspected": {"count": count, "verdict": verdict, "results": [result], "scrapped": how % 3},
        "lot_disposed": {"lot": 1 + how % 2, "disposition": ("sorted", "scrapped", "released")[how % 3],
                         "good": 0 if how % 2 else 25},
        "inspection_restarted": {"edition": "lp", "defect_class": "major", "why": "a new knife"},
        "stocked": {"bin": f"A-{how % 2}", "count": 10 + how},
        "taken_out": {"bin": bin_, "count": 1 + how % 3},
        "orders_taken": {"orders": [taken | {"order": str(how), "account": f"K{how % 3}", "edition": f"{TITLE}/lp",
                                             "count": 5 + how}]},
        "order_cancelled": {"order": order.order, "edition": order.edition},
        "cartons_packed": {"cartons": [carton]},
        "carton_opened": {"sscc": sscc, "bin": "A-9"},
        "loaded": {"sscc": sscc, "dock": "1" if how % 3 else "2"},
        "account_told": {"account": order.account, "run": run},
    }[kind]  # fmt: skip


class Tale:
    """A title to which things happen, as the ledger would let them."""

    def __init__(self) -> None:
        self.lines: list[Line] = []
        self.family = Family(TITLE)
        self.serial = 0

    def happen(self, choice: Choice) -> bool:
        """One thing more; false where it is refused."""
        kind, part, data, accepted = happening(self.family, self.lines, choice)
        births = {"lacquer_cut": "lacquer", "plated": data.get("part_kind", ""), "run_begun": "run"}
        born = births.get(kind, "")
        number = part_number(born, self.serial + 1) if born else part
        at = datetime(2031, 1, 1, tzinfo=UTC) + timedelta(hours=len(self.lines))
        line = Line(
            len(self.lines) + 1, at.isoformat(timespec="microseconds"), f"person {choice[2] % 3}", "", TITLE, number,
            kind, e.data_of(e.read_event(kind, data)), f"k{len(self.lines)}", accepted,
        )  # fmt: skip
        line = linked(line, self.lines[-1].hash if self.lines else BEGIN)
        if kind == "corrected":
            after, found = put_right(self.family, self.lines, line)
        else:
            after, found = step(self.family, line)
        if any(one.severity == "stop" and not one.accepted for one in found):
            return False
        self.serial += bool(born)
        self.lines.append(line)
        self.family = after
        return True


def yard_wrongs(family: Family) -> Iterator[str]:
    """What no yard may be like: by another road than the counts it keeps, from cartons and orders one by one."""
    yard = family.yard
    here = [one for one in yard.cartons.values() if not one.opened]
    for id_, run in yard.runs.items():
        counts = (run.made - run.good, run.to_inspect, run.held, run.to_stock, run.out, *run.bins.values())
        if min(counts) < 0 or 0 in run.bins.values():
            yield f"{id_} has impossible counts {counts}"
        lost = sum(one.count - one.good - one.held for one in run.lots)
        where = run.to_inspect + run.held + lost + run.to_stock + run.stocked + run.out
        if where + sum(one.count for one in here if one.run == id_) != run.good:
            yield f"{id_} made or lost discs"
    for one in yard.orders.values():
        own = [c for c in here if (c.order, c.edition) == (one.line.order, one.line.edition)]
        if one.packed != sum(c.count for c in own) or one.loaded != sum(c.count for c in own if c.loaded_at):
            yield f"order {one.line.order} has other counts than its cartons"
        if one.packed > one.line.count or any(c.account != one.line.account for c in own):
            yield f"order {one.line.order} got too much, or what is another account's"


def wrongs(family: Family) -> Iterator[str]:
    """What no family may be like, whatever happened to it."""
    yield from yard_wrongs(family)
    for id_, part in family.parts.items():
        if part.id != id_ or part.kind not in KINDS or part.state not in STATES:
            yield f"{id_} is {part.kind} {part.state}"
        if part.state in ("cut", "silvered", "spent") and part.kind != "lacquer":
            yield f"{id_} is a {part.kind} and {part.state}"
        if part.state == "at_press" and part.kind not in ("master", "stamper"):
            yield f"{id_} is a {part.kind} at the press"
        if part.passivated and part.kind == "lacquer":
            yield f"{id_} is a lacquer with a film"
        if (part.kind == "lacquer") != (not part.parent):
            yield f"{id_} is a {part.kind} from {part.parent!r}"
        if part.parent:
            parent = family.parts.get(part.parent)
            if parent is None or id_ not in parent.children or part.kind != GROWS.get(parent.kind):
                yield f"{id_} does not come from {part.parent}"
            elif part.sign == parent.sign or (part.side, part.edition) != (parent.side, parent.edition):
                yield f"{id_} has not the sign or the side that {parent.id} gives"
            elif part.marks != (*parent.marks, *([part.own_mark] if part.own_mark else [])):
                yield f"{id_} has not the marks of its ancestors"
            elif parent.kind == "lacquer" and parent.state in ("cut", "silvered"):
                yield f"{parent.id} was grown from and is not spent"
        if set(part.children) - set(family.parts) or len(set(part.children)) != len(part.children):
            yield f"{id_} has children that are none"
        if (part.verdict == "approved") != bool(part.approved_by):
            yield f"{id_} is {part.verdict!r}, approved by {part.approved_by}"
        if part.pressings < 0 or not part.born <= part.last <= family.seq:
            yield f"{id_} has impossible counts"
