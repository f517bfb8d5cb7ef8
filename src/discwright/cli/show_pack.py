"""A packing as a few lines for a person: what goes out, what is short and by which rule, what to watch."""

from __future__ import annotations

from typing import TYPE_CHECKING

from discwright.cli.show_plan import show_finding
from discwright.findings import count_words

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.pack_report import PackReport
    from discwright.works.packing import Packed

#: So many lines of each list are printed; the JSON and the files have them all.
_SHOWN = 20


def show_pack(report: PackReport, console: Console) -> None:
    """Print a packing.

    Parameters
    ----------
    report : PackReport
    console : rich.console.Console
    """
    packed = report.packed
    console.print(
        f"Packed    {_many(report.discs, 'disc')} in {_many(len(packed.cartons), 'carton')} and "
        f"{_many(len(packed.bundles), 'bundle')} for {_many(len({one.account for one in packed.bundles}), 'account')}, "
        f"{report.mass_kg:.1f} kg on {_many(len(report.pallets), 'pallet')}",
        soft_wrap=True,
    )
    _show_numbers(packed, console)
    part = sum(not one.full for one in packed.cartons)
    if part:
        console.print(f"part      {_many(part, 'carton')} part-filled and marked", soft_wrap=True)
    if report.short:
        _show_short(report, console)
    for one in report.line_findings[:_SHOWN]:
        console.print(f"{one.severity:8}  {one.code}  {one.sentence}", soft_wrap=True)
    if len(report.line_findings) > _SHOWN:
        console.print(
            f"          and {len(report.line_findings) - _SHOWN} more; --json prints them all", soft_wrap=True
        )
    for finding in report.findings:
        show_finding(finding, console)
    for name, path in (report.written or {}).items():
        console.print(f"{name.replace('_', ' '):9} {path}", soft_wrap=True)
    console.print(_last_words(report), soft_wrap=True)


def _show_numbers(packed: Packed, console: Console) -> None:
    if packed.next_serial is None:
        console.print("SSCC      none: no --gs1-prefix was given", soft_wrap=True)
    elif packed.cartons:
        last = packed.bundles[-1].sscc
        console.print(
            f"SSCC      {packed.cartons[0].sscc} to {last}; the next free serial number is {packed.next_serial}",
            soft_wrap=True,
        )


def _show_short(report: PackReport, console: Console) -> None:
    for one in report.short[:_SHOWN]:
        wanted = f", wanted {one.wanted}" if one.wanted else ""
        console.print(
            f"short     {one.account}  {one.edition}  order {one.order}: {one.granted} of {one.ordered}, "
            f"{one.missing} missing{wanted}",
            soft_wrap=True,
        )
    if len(report.short) > _SHOWN:
        console.print(f"          and {len(report.short) - _SHOWN} more; --json prints them all", soft_wrap=True)
    console.print(f"rule      {report.allocation.rule_words}", soft_wrap=True)


def _last_words(report: PackReport) -> str:
    words = count_words(report.findings)
    words = f"{words[:1].upper()}{words[1:]}"
    if report.short:
        return f"{words}: send what is packed, and keep the rest as backorders."
    return f"{words}: everything that was ordered is packed."


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
