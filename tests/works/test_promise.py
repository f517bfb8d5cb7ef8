"""What is promised: by hand, and that no disc is promised twice."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from pressed import order_line

from discwright.works.promise import STATES, Supply, promises

LP, EP = "NL 4/lp", "NL 4/ep"


def test_discs_go_to_the_orders_in_the_order_in_which_they_are_wanted() -> None:
    orders = [
        order_line("late", "K1", LP, 50, "2031-05-20"),
        order_line("first", "K2", LP, 40, "2031-05-10"),
        order_line("whenever", "K3", LP, 30, ""),
        order_line("other", "K4", EP, 5, "2031-05-01"),
    ]
    supplies = [
        Supply(LP, 60),
        Supply(LP, 20, "2031-05-12", "to be inspected"),
        Supply(LP, 30, "2031-05-25", "press 2"),
    ]
    found = {one.line.order: one for one in promises(orders, supplies, "2031-05-02")}
    # By hand: 40 of the 60 go to "first"; "late" gets 20, 20 and 10, the last on the 25th; 20 are left of 30.
    assert (found["first"].state, found["first"].here, found["first"].day) == ("here", 40, "")
    assert (found["late"].state, found["late"].here, found["late"].day, found["late"].why) == (
        "late", 20, "2031-05-25", "press 2",
    )  # fmt: skip
    assert (found["whenever"].state, found["whenever"].missing) == ("unplanned", 10)
    assert (found["other"].state, found["other"].missing, found["other"].here) == ("unplanned", 5, 0)
    states = [one.state for one in promises(orders, supplies, "2031-05-02")]
    assert states == ["unplanned", "unplanned", "late", "here"]


def test_what_was_wanted_yesterday_is_late_though_it_is_here() -> None:
    (one,) = promises([order_line("1", "K1", LP, 5, "2031-05-01")], [Supply(LP, 5)], "2031-05-02")
    assert (one.state, one.here, one.why) == ("late", 5, "it was wanted before today")
    (one,) = promises([order_line("1", "K1", LP, 5, "2031-05-02")], [Supply(LP, 5)], "2031-05-02")
    assert one.state == "here"
    (one,) = promises([order_line("1", "K1", LP, 5, "2031-05-02")], [Supply(LP, 5, "2031-05-02", "x")], "2031-05-01")
    assert one.state == "coming"


days = st.sampled_from(["", "2031-05-01", "2031-05-02", "2031-05-03"])
counts = st.integers(1, 40)


@given(
    st.lists(st.tuples(st.sampled_from([LP, EP]), counts, days), max_size=12),
    st.lists(st.tuples(st.sampled_from([LP, EP]), counts, days), max_size=12),
)
def test_no_disc_is_promised_twice(wanted: list[tuple[str, int, str]], coming: list[tuple[str, int, str]]) -> None:
    orders = [order_line(str(k), "K", *one) for k, one in enumerate(wanted)]
    found = promises(orders, [Supply(*one, "x") for one in coming], "2031-05-01")
    assert len(found) == len(orders)
    assert {one.state for one in found} <= set(STATES)
    for edition in (LP, EP):
        own = [one for one in found if one.line.edition == edition]
        supply = sum(count for code, count, _ in coming if code == edition)
        demand = sum(one.line.count for one in own)
        assert sum(one.missing for one in own) == max(0, demand - supply)
        assert sum(one.here for one in own) <= sum(c for code, c, day in coming if code == edition and not day)
