"""Pack a day: who gets what, into which cartons and bundles, on which pallets, and the papers that go with them."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path

from discwright.acts.pack_findings import label_findings, pack_findings
from discwright.acts.pack_report import PackReport
from discwright.errors import CallError, DiscwrightError
from discwright.files.carton_label import LabelOrder, label_place, read_sender, unit_labels, write_labels
from discwright.files.csv_guard import LineFinding
from discwright.files.manifest import write_manifest, write_pick_list
from discwright.files.orders_csv import read_orders
from discwright.files.packing_settings import PackingSettings, load_packing
from discwright.files.stock_csv import read_stock, read_weights
from discwright.findings import sort_findings
from discwright.works.allocation import RULES, allocate
from discwright.works.gs1 import Serials, SsccRange
from discwright.works.order_lines import OrderLine, StockLine
from discwright.works.packing import PackRules, pack
from discwright.works.pallets import pallet_loads

Tell = Callable[[str, float], None]
LABELS, MANIFEST, PICK_LIST = "labels", "manifest", "pick_list"
_ENDINGS = {LABELS: ".pdf", MANIFEST: ".csv", PICK_LIST: ".csv"}


class RefusedLines(DiscwrightError):
    """Files with lines that cannot be used: nothing of them is.

    Attributes
    ----------
    findings : tuple of LineFinding
        All that is wrong, in every file.
    more : int
        Findings beyond those.
    """

    def __init__(self, findings: tuple[LineFinding, ...], more: int) -> None:
        stops = [one for one in findings if one.severity == "stop"]
        super().__init__("\n".join(one.sentence for one in stops))
        self.findings, self.more = findings, more


@dataclass(frozen=True)
class PackOrder:
    """How a day is packed; what is None is taken from the packing settings.

    Attributes
    ----------
    gs1_prefix : str or None
        The company's; without one nothing has an SSCC.
    serial_from : int or None
        First serial number that was never used; needed with a prefix.
    extension : int
        Extension digit of the SSCCs.
    per_carton, per_bundle : int or None
    rule : str
        Who comes first where an edition is short.
    recalled : tuple of str
        Runs that stay in their bins.
    pallet : str or None
        Kind of pallet; the first of the settings without.
    page : str
    dpi : int
        Of the label printer.
    sender : str
        Lines with semicolons between them.
    """

    gs1_prefix: str | None = None
    serial_from: int | None = None
    extension: int = 0
    per_carton: int | None = None
    per_bundle: int | None = None
    rule: str = "date"
    recalled: tuple[str, ...] = ()
    pallet: str | None = None
    page: str = "A6"
    dpi: int = 203
    sender: str = ""


@dataclass(frozen=True)
class Papers:
    """Files that are to be written; none of them may be there yet."""

    labels: Path | None = None
    manifest: Path | None = None
    pick_list: Path | None = None

    def named(self) -> dict[str, Path]:
        """Those that are wanted, by what they are."""
        wanted = {LABELS: self.labels, MANIFEST: self.manifest, PICK_LIST: self.pick_list}
        return {name: path for name, path in wanted.items() if path is not None}


def pack_files(
    orders: Path,
    stock: Path,
    order: PackOrder,
    *,
    weights: Path | None = None,
    papers: Papers | None = None,
    settings: Path | None = None,
    encoding: str | None = None,
    tell: Tell = lambda _step, _done: None,
) -> PackReport:
    """Read orders and stock, pack, and write the papers.

    Parameters
    ----------
    orders, stock : pathlib.Path
        CSV files.
    order : PackOrder
    weights : pathlib.Path, optional
        How much each account counts, as CSV.
    papers : Papers, optional
    settings : pathlib.Path, optional
        A house file that replaces some of the shipped packing settings.
    encoding : str, optional
        Of the CSV files.
    tell : function of a step and a share

    Returns
    -------
    PackReport

    Raises
    ------
    RefusedLines
        If a line of a file cannot be used; nothing is written then.
    CallError, SettingsError
    """
    house = load_packing(settings)
    check_order(order, papers or Papers(), house)
    tell("reading", 0.0)
    stored = read_stock(stock, encoding=encoding)
    weighed = read_weights(weights, encoding=encoding) if weights is not None else None
    ordered = read_orders(
        orders,
        editions=None if stored.refused else {one.edition for one in stored.lines},
        weights=weighed.weights if weighed else None,
        encoding=encoding,
    )
    findings = (*ordered.findings, *stored.findings, *(weighed.findings if weighed else ()))
    if ordered.refused or stored.refused or (weighed is not None and weighed.refused):
        raise RefusedLines(findings, ordered.more + stored.more)
    tell("packing", 0.1)
    report = pack_lines(ordered.lines, stored.lines, order, house)
    report = replace(report, line_findings=findings)
    return write_papers(report, papers or Papers(), order, tell) if papers else report


def pack_lines(
    orders: Sequence[OrderLine], stock: Sequence[StockLine], order: PackOrder, house: PackingSettings | None = None
) -> PackReport:
    """Allocate and pack lines that were read and checked already.

    Parameters
    ----------
    orders : sequence of OrderLine
    stock : sequence of StockLine
    order : PackOrder
    house : PackingSettings, optional
        The shipped settings without.

    Returns
    -------
    PackReport

    Raises
    ------
    CallError
    """
    house = house or load_packing()
    serials = check_order(order, Papers(), house)
    rules = _rules(order, house)
    recalled = frozenset(order.recalled)
    usable = [one for one in stock if one.run not in recalled]
    allocation = allocate(orders, usable, rule=order.rule, per_carton=rules.per_carton)
    packed = pack(allocation, rules, serials)
    pallet = house.pallets[order.pallet] if order.pallet else next(iter(house.pallets.values()))
    loads = pallet_loads(packed.bundles, house.weights, pallet, rules.per_bundle)
    held = [one for one in stock if one.run in recalled and one.count]
    return PackReport(
        allocation, packed, loads, house, pack_findings(packed, house.weights, allocation, held), (),
        tuple(sorted(recalled)),
    )  # fmt: skip


def write_papers(
    report: PackReport, papers: Papers, order: PackOrder, tell: Tell = lambda _step, _done: None
) -> PackReport:
    """Write labels, manifest and pick list: all of them or none, and nothing that is there is written over.

    Parameters
    ----------
    report : PackReport
    papers : Papers
    order : PackOrder
    tell : function of a step and a share

    Returns
    -------
    PackReport
        With what was written, and what there is to say of the labels; there are none where nothing was packed.

    Raises
    ------
    CallError
        If something lies there, or a place cannot be written.
    """
    house, packed = report.settings, report.packed
    check_order(order, papers, house)
    wanted, made = papers.named(), None
    if not packed.cartons:
        wanted.pop(LABELS, None)
    with _beside(wanted) as parts:
        if LABELS in parts:
            total = len(packed.cartons) + len(packed.bundles)
            made = write_labels(
                parts[LABELS], unit_labels(packed, house.weights, house.language), _label_order(order, house),
                house.label, lambda share: tell("labels", 0.1 + 0.85 * share), total,
            )  # fmt: skip
        tell("lists", 0.95)
        if MANIFEST in parts:
            write_manifest(parts[MANIFEST], packed, house.weights, report.pallets)
        if PICK_LIST in parts:
            write_pick_list(parts[PICK_LIST], packed)
        tell("lists", 1.0)
    said = label_findings(made, house.label) if made is not None else []
    return replace(report, labels=made, written=wanted, findings=sort_findings([*report.findings, *said]))


@contextmanager
def _beside(wanted: dict[str, Path]) -> Iterator[dict[str, Path]]:
    """Names beside the wanted ones; renamed together at the end, and gone where anything goes wrong."""
    parts = {name: path.with_name(f"{path.name}.part") for name, path in wanted.items()}
    try:
        yield parts
        for name, path in wanted.items():
            os.replace(parts[name], path)
    except OSError as trouble:
        place = next(iter(wanted.values()), "")
        named = str(trouble.filename or place).removesuffix(".part")
        raise CallError(f"{named}: cannot be written ({trouble.strerror}); choose another place.") from None
    finally:
        for part in parts.values():
            with suppress(OSError):
                part.unlink(missing_ok=True)


def _label_order(order: PackOrder, house: PackingSettings) -> LabelOrder:
    return LabelOrder(order.page, order.dpi, read_sender(order.sender), house.language)


def _rules(order: PackOrder, house: PackingSettings) -> PackRules:
    return PackRules(
        house.rules.per_carton if order.per_carton is None else order.per_carton,
        house.rules.per_bundle if order.per_bundle is None else order.per_bundle,
    )


def check_order(order: PackOrder, papers: Papers, house: PackingSettings) -> Serials | None:
    """Refuse what cannot be meant before anything is read.

    Parameters
    ----------
    order : PackOrder
    papers : Papers
        None of them may be there yet.
    house : PackingSettings

    Returns
    -------
    Serials or None
        The serial numbers that are wanted.

    Raises
    ------
    CallError
    """
    if order.rule not in RULES:
        raise CallError(f"there is no rule “{order.rule}”; choose from {', '.join(RULES)}.")
    if order.pallet is not None and order.pallet not in house.pallets:
        raise CallError(f"there is no pallet “{order.pallet}”; choose from {', '.join(house.pallets)}.")
    _rules(order, house)
    label_place(_label_order(order, house), house.label)
    seen: dict[Path, str] = {}
    for name, path in papers.named().items():
        if path.suffix.lower() != _ENDINGS[name]:
            raise CallError(f"{path}: choose a name that ends with {_ENDINGS[name]}.")
        if path.exists() or path.is_symlink():
            raise CallError(f"{path}: is there already; choose another name, or move that file away.")
        if seen.setdefault(path.absolute(), name) != name:
            raise CallError(f"{path}: two papers cannot have one name; choose another for one of them.")
    if order.gs1_prefix is None:
        if order.serial_from is not None:
            raise CallError("a serial number belongs to a GS1 prefix; give --gs1-prefix as well.")
        return None
    numbers = SsccRange(order.gs1_prefix, order.extension)
    if order.serial_from is None:
        raise CallError(
            "no SSCC may be given out twice; give --serial-from with the first number that was never used "
            "(next_serial of the last packing, 1 if there was none)."
        )
    numbers.check(order.serial_from, 1)
    return Serials(numbers, order.serial_from)
