"""Tables of a page as CSV: heads that wear their units, and no cell that a table program would take for a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from fastapi.responses import Response


def csv_of(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A table as CSV.

    Parameters
    ----------
    columns : sequence of str
        Its heads.
    rows : iterable of sequence
        As many cells each.
    """
    packed = io.StringIO()
    writer = csv.writer(packed, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([plain_cell(one) for one in row] for row in rows)
    return packed.getvalue()


def plain_cell(cell: object) -> object:
    """A cell that stays a text: what begins as a formula would begins with an apostrophe instead.

    Parameters
    ----------
    cell : object
    """
    return f"'{cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell


def moment_cell(moment: str, zone: ZoneInfo) -> str:
    """A moment of the ledger as a cell: where the works is, with its offset from UTC; empty for none.

    Parameters
    ----------
    moment : str
    zone : zoneinfo.ZoneInfo
    """
    return datetime.fromisoformat(moment).astimezone(zone).isoformat(timespec="minutes") if moment else ""


def csv_response(packed: str, name: str) -> Response:
    """CSV as a file to keep.

    Parameters
    ----------
    packed : str
    name : str
        Of the file, plain letters.
    """
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(packed, media_type="text/csv; charset=utf-8", headers=headers)
