"""Recalls put together: what is recalled and why, and every account that is to be told."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

from discwright.acts.recalls import AccountReached, RecallReport
from discwright.desk.csv_words import moment_cell
from discwright.desk.dock_parts import ReachedRow, RecalledRun
from discwright.desk.dock_words import carton_href, cartons, number
from discwright.desk.run_words import run_href
from discwright.desk.show_board import new_key, part_href
from discwright.desk.works_parts import Badge
from discwright.works.family import Family
from discwright.works.yard import Packed, Run, edition_code

HEADS = (
    "account", "name", "city", "country", "run", "recalled_by", "told", "sscc", "order", "edition", "count_discs",
    "sent_at",
)  # fmt: skip


def run_rows(report: RecallReport) -> tuple[RecalledRun, ...]:
    """The runs that are recalled, or would be."""
    return tuple(_run(family, run, why) for family, run, why in report.runs)


def _run(family: Family, run: Run, why: str) -> RecalledRun:
    badge = Badge("stop", "recalled: set aside") if why else Badge("note", "not recalled")
    return RecalledRun(
        run.id, run_href(run.id), edition_code(family.title, run.edition), family.name or family.title, why,
        run_href(why) if why == run.id else part_href(why), number(run.made), number(run.stocked), badge,
    )  # fmt: skip


def reached_rows(report: RecallReport, *, may_tell: bool) -> tuple[ReachedRow, ...]:
    """Every account and run, those that are not told first.

    Parameters
    ----------
    report : RecallReport
    may_tell : bool
        Whoever looks may write down that an account was told.
    """
    rows = sorted(_reached(report), key=lambda one: one[3])
    return tuple(_row(k, *one, may_tell=may_tell) for k, one in enumerate(rows, 1))


def _reached(report: RecallReport) -> Iterator[tuple[AccountReached, str, bool, bool]]:
    """Each account with a run, whether that is recalled, and whether the account was told of it."""
    told = {pair for family, _, _ in report.runs for pair in family.yard.told}
    recalled = {run.id for _, run, why in report.runs if why}
    for account in report.accounts:
        for run in dict.fromkeys(one.run for one in (*account.gone, *account.here)):
            yield account, run, run in recalled, (account.account, run) in told


def _row(k: int, account: AccountReached, run: str, recalled: bool, told: bool, *, may_tell: bool) -> ReachedRow:
    gone, here = (_of(run, some) for some in (account.gone, account.here))
    if told:
        badge = Badge("done", "told")
    else:
        badge = Badge("warn", "to be told") if recalled else Badge("note", "would be told")
    return ReachedRow(
        k, account.account, ", ".join(one for one in (account.name, account.city, account.country) if one), run,
        run_href(run), number(sum(one.count for one in gone)), number(sum(one.count for one in here)),
        cartons(len(gone) + len(here)),
        tuple((one.sscc, carton_href(one.sscc), "sent" if one.loaded_at else "here") for one in (*gone, *here)), badge,
        new_key() if may_tell and recalled and not told else "",
    )  # fmt: skip


def _of(run: str, some: Sequence[Packed]) -> list[Packed]:
    return [one for one in some if one.run == run]


def counts(report: RecallReport, rows: Sequence[ReachedRow]) -> tuple[Badge, ...]:
    """All of it in words."""
    untold = len({one.account for one in rows if one.badge.state == "warn"})
    here = sum(run.stocked for _, run, _ in report.runs) + sum(one.count for two in report.accounts for one in two.here)
    sent = sum(one.count for two in report.accounts for one in two.gone)
    recalled = any(why for _, _, why in report.runs)
    if not recalled:
        many = f"{len(report.accounts)} {'account' if len(report.accounts) == 1 else 'accounts'}"
        tell = Badge("note", f"{many} would be told") if report.runs else None
    else:
        tell = Badge("warn", f"{untold} to be told") if untold else Badge("done", "everybody is told")
    return (
        *((tell,) if tell is not None else ()), Badge("arrow", f"{number(sent)} discs sent"),
        Badge("stored", f"{number(here)} discs here"),
    )  # fmt: skip


def csv_rows(report: RecallReport, zone: ZoneInfo) -> Iterator[tuple[object, ...]]:
    """A line for each carton, for a file."""
    why = {run.id: reason for _, run, reason in report.runs}
    told = {pair for family, _, _ in report.runs for pair in family.yard.told}
    for account in report.accounts:
        for one in (*account.gone, *account.here):
            yield (
                account.account, account.name, account.city, account.country, one.run, why[one.run],
                "yes" if (account.account, one.run) in told else "no", one.sscc, one.order, one.edition, one.count,
                moment_cell(one.loaded_at, zone),
            )  # fmt: skip
