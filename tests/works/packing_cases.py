"""Orders and stock for the tests of packing: a few fixed ones, and whatever Hypothesis thinks of."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import settings
from hypothesis import strategies as st

from discwright.works.allocation import allocate
from discwright.works.gs1 import Serials, SsccRange
from discwright.works.order_lines import OrderLine, StockLine
from discwright.works.packing import Packed, PackRules, pack

SERIALS = Serials(SsccRange("5012345", 3), 1)
#: Whole packings take their time.
FEW = settings(max_examples=40, deadline=None)
EDITIONS = ("NL-004/lp", "NL-004/ep", "NL-017/lp")


def ordered(
    account: str, count: int, *, order: str = "", edition: str = EDITIONS[0], wanted: str = "2026-12-01",
    weight: float = 1.0, line: int = 0, street: str = "Quay 1", country: str = "NO",
) -> OrderLine:  # fmt: skip
    return OrderLine(
        order or f"O-{account}", account, f"Music Trade {account}", street, "", "Bergen", "", "5003", country, edition,
        count, wanted, weight, line,
    )  # fmt: skip


def stored(run: str, count: int, bin_: str, edition: str = EDITIONS[0]) -> StockLine:
    return StockLine(edition, run, count, bin_)


def packed(
    orders: Sequence[OrderLine], stock: Sequence[StockLine], rules: PackRules | None = None,
    serials: Serials | None = SERIALS,
) -> Packed:  # fmt: skip
    rules = rules or PackRules()
    return pack(allocate(orders, stock, per_carton=rules.per_carton), rules, serials)


DAYS = st.sampled_from(["", "2026-11-30", "2026-12-01", "2026-12-24"])
WEIGHTS = st.sampled_from([0.5, 1.0, 1.0, 2.0, 3.7])


@st.composite
def order_lines(draw: st.DrawFn) -> list[OrderLine]:
    """Orders of a few accounts, some with two addresses, of three editions."""
    lines = []
    for k in range(draw(st.integers(0, 12))):
        account = f"A-{draw(st.integers(1, 4))}"
        lines.append(
            ordered(
                account, draw(st.integers(1, 130)), order=f"O-{k}", edition=draw(st.sampled_from(EDITIONS)),
                wanted=draw(DAYS), weight=draw(WEIGHTS), line=k + 2, street=draw(st.sampled_from(["Quay 1", "Quay 2"])),
            )
        )  # fmt: skip
    return lines


@st.composite
def stock_lines(draw: st.DrawFn) -> list[StockLine]:
    """Runs in bins, a run in several of them."""
    lines = {}
    for _ in range(draw(st.integers(0, 10))):
        edition = draw(st.sampled_from(EDITIONS))
        run, bin_ = f"R-{edition[-4:]}-{draw(st.integers(1, 3))}", f"B-{draw(st.integers(1, 12))}"
        lines[edition, run, bin_] = StockLine(edition, run, draw(st.integers(0, 200)), bin_)
    return list(lines.values())


RULES = st.builds(PackRules, per_carton=st.sampled_from([1, 7, 20, 25]), per_bundle=st.sampled_from([1, 3, 4]))
