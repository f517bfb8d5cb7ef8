"""The demo's last days at the works: an edition pressed with two stampers, inspected, ordered, packed and loaded.

Accounts, names and addresses are invented. GS1 prefixes that begin with 952 are set aside for demonstrations.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from discwright.acts.dock import DockReport, pack_orders
from discwright.acts.first_off import disc_of, first_off_limits, inspect_first_off
from discwright.acts.hall_ledger import keep_schedule, schedule_works
from discwright.acts.loading import load
from discwright.acts.lots import inspect_lot
from discwright.acts.orders import take_orders
from discwright.acts.pack import PackOrder, Papers, write_papers
from discwright.acts.runs import begin_run, press_run, run_for, stock_run
from discwright.acts.works import Hand
from discwright.files.csv_guard import write_table
from discwright.files.orders_csv import HEADS
from discwright.files.press_settings import load_press
from discwright.works.first_off import FirstOffSeen
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.yard import edition_code

PACKER = "Sol Imber"
GS1_PREFIX = "9521234"
#: Files of the dispatch, in a folder of their own.
FOLDER, ORDERS, LABELS, MANIFEST, PICK_LIST = "dispatch", "orders.csv", "labels.pdf", "manifest.csv", "pick-list.csv"
_SENDER = "Brack & Vey Record Works; Sluice Lane 4; Harrow Quay"
#: order, account, name, street, city, region, postcode, country, discs, day.
_ORDERS = (
    ("O-2101", "K-101", "Kråkerøy Plater", "Bryggegata 7", "Fredrikstad", "", "1607", "NO", 180, "2031-04-18"),
    ("O-2102", "K-102", "Disques de l'Écluse", "12 rue du Halage", "Brest", "", "29200", "FR", 125, "2031-04-18"),
    ("O-2103", "K-103", "Gramofony Závětří", "Na Hrázi 31", "Olomouc", "", "779 00", "CZ", 90, "2031-04-22"),
    ("O-2104", "K-104", "Δίσκοι Μελτέμι", "Οδός Λιμένος 9", "Θεσσαλονίκη", "", "546 24", "GR", 60, "2031-04-22"),
    ("O-2105", "K-105", "風見鶏レコード", "港町2-14", "函館市", "北海道", "040-0063", "JP", 50, "2031-04-25"),
    ("O-2106", "K-106", "Tideline Discs", "88 Breakwater Road", "Astoria", "OR", "97103", "US", 75, "2031-05-02"),
)
Pass = Callable[[float], None]
_HALL = """# The demo's press hall. `discwright works schedule --go-by` plans it from the ledger.
[hall]
zone = "UTC"

[[press]]
name = "1"
sizes = ["12in", "10in"]
shifts = ["early", "late"]

[[press]]
name = "2"
sizes = ["12in", "7in"]
shifts = ["early"]
"""


def plan_the_hall(ledger: Ledger, place: Path) -> None:
    """Write the demo's press hall, and keep the schedule of what is still to be pressed.

    Parameters
    ----------
    ledger : Ledger
    place : pathlib.Path
        Of the hall's file.
    """
    place.write_text(_HALL, encoding="utf-8")
    keep_schedule(ledger, schedule_works(ledger, place, seconds=1.0))


def dispatch(ledger: Ledger, title: str, edition: str, runs: list[str], folder: Path, pass_hours: Pass) -> DockReport:
    """Take the orders, pack what is there and load most of it.

    Parameters
    ----------
    ledger : Ledger
    title, edition : str
    runs : list of str
        Runs of the edition, each in its bin.
    folder : pathlib.Path
        Where orders, labels and lists are written.
    pass_hours : callable
        Lets so many hours pass.
    """
    code, packer = edition_code(title, edition), Hand(PACKER, "dock")
    folder.mkdir(exist_ok=True)
    rows = [
        (order, account, name, street, "", city, region, postcode, country, code, count, day)
        for order, account, name, street, city, region, postcode, country, count, day in _ORDERS
    ]
    write_table(folder / ORDERS, HEADS, rows)
    pass_hours(1.0)
    taken = take_orders(ledger, folder / ORDERS, packer)
    assert taken.written, taken.findings
    pass_hours(0.5)
    report = pack_orders(ledger, packer, prefix=GS1_PREFIX, first_serial=1, dock="2", docks={"NO": "1"}, rule="date")
    assert report.written, report.outcomes
    papers = Papers(folder / LABELS, folder / MANIFEST, folder / PICK_LIST)
    write_papers(report.pack, papers, PackOrder(sender=_SENDER))
    for bundle in report.packed.bundles[:-1]:  # the last one still stands at the dock
        pass_hours(0.1)
        for outcome in load(ledger, bundle.key, report.docks[bundle.cartons[0].key], packer, vehicle="grey lorry"):
            _written(outcome)
    assert runs
    return report


def press_and_stock(
    ledger: Ledger, title: str, edition: str, stampers: dict[str, str], made: tuple[int, int], bin_: str, by: str,
    pass_hours: Pass,
) -> str:  # fmt: skip
    """One run from its first disc into its bin.

    Parameters
    ----------
    ledger : Ledger
    title, edition : str
    stampers : dict of str to str
        Number of the stamper of each side, at the press.
    made : (int, int)
        Pressed, and good.
    bin_ : str
    by : str
        Who presses.
    pass_hours : callable
        Lets so many hours pass.

    Returns
    -------
    str
        Number of the run.
    """
    hand = Hand(by, "press")
    pass_hours(0.3)
    number = _written(begin_run(ledger, edition_code(title, edition), stampers, hand, planned=made[0]))
    family, run = run_for(ledger, number)
    limits = first_off_limits(load_press(), disc_of(family, run))
    seen = FirstOffSeen(
        hole_mm=round((limits.hole_low_mm + limits.hole_high_mm) / 2, 2), off_centre_mm=0.07,
        weight_g=limits.weight_g + 0.5, labels="right",
        marks_read={side: " ".join(family.parts[one].marks) for side, one in stampers.items()},
        stampers=dict(stampers), played="pass",
    )  # fmt: skip
    pass_hours(0.5)
    _written(inspect_first_off(ledger, number, seen, hand)[0])
    pass_hours(made[0] / 180.0)
    _written(press_run(ledger, number, *made, hand))
    pass_hours(8.0)
    _written(inspect_lot(ledger, number, hand, found={"minor": 1})[0])
    pass_hours(0.2)
    _written(stock_run(ledger, number, bin_, Hand(PACKER, "stock")))
    return number


def _written(outcome: Outcome) -> str:
    assert outcome.line is not None, outcome.findings
    return outcome.line.part
