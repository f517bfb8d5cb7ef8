"""discwright plans the cut of a record: from the approved programme to a tight, provable spiral.

The same acts as on the command line, as plain functions::

    import discwright

    report = discwright.plan_file("side-a.wav", level_db=0.0)
    report.plan.spare, report.plan.findings

Nothing heavy is imported until an act is asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_ACTS = {
    "survey": "discwright.acts.survey",
    "plan_file": "discwright.acts.plan",
    "plan_title": "discwright.acts.title",
    "layout": "discwright.acts.layout",
    "what_if": "discwright.acts.what_if",
    "make_file": "discwright.acts.what_if",
    "remedy": "discwright.acts.remedies",
    "new_title": "discwright.acts.new_title",
    "fix_sides": "discwright.files.title_edit",
    "proof": "discwright.acts.proof",
    "tone_bench": "discwright.acts.tone",
    "write_demo": "discwright.acts.demo",
    "examine": "discwright.acts.doctor",
    "plate": "discwright.acts.plate",
    "begin_ledger": "discwright.works.store.ledger",
    "open_ledger": "discwright.works.store.ledger",
    "take_in": "discwright.acts.works",
    "read_planned": "discwright.acts.works",
    "keep_plan": "discwright.acts.works",
    "cut": "discwright.acts.works",
    "grow": "discwright.acts.works",
    "record": "discwright.acts.works_record",
    "correct": "discwright.acts.works_record",
    "tree": "discwright.acts.works_look",
    "trace": "discwright.acts.works_look",
    "write_part_card": "discwright.acts.works_card",
    "inspect": "discwright.acts.inspect",
    "gauge_photograph": "discwright.acts.gauge",
    "gauge_light_band": "discwright.acts.gauge",
    "find_guilty": "discwright.acts.works_locate",
    "hear": "discwright.acts.works_plays",
    "press": "discwright.acts.press",
    "sample": "discwright.acts.sample",
    "pack_files": "discwright.acts.pack",
    "begin_run": "discwright.acts.runs",
    "inspect_first_off": "discwright.acts.first_off",
    "press_run": "discwright.acts.runs",
    "plan_lot": "discwright.acts.lots",
    "inspect_lot": "discwright.acts.lots",
    "decide_lot": "discwright.acts.lots",
    "stock_run": "discwright.acts.runs",
    "take_orders": "discwright.acts.orders",
    "promise_orders": "discwright.acts.orders",
    "pack_orders": "discwright.acts.dock",
    "load": "discwright.acts.loading",
    "recalls": "discwright.acts.recalls",
    "descent": "discwright.acts.works_descent",
    "schedule_hall": "discwright.acts.hall",
    "schedule_works": "discwright.acts.hall_ledger",
    "chain": "discwright.acts.chain",
    "make_signals": "discwright.acts.chain",
    "air": "discwright.acts.air",
}
__all__ = [
    "__version__", "air", "begin_ledger", "begin_run", "chain", "correct", "cut", "decide_lot", "descent", "examine",
    "find_guilty", "fix_sides", "gauge_light_band", "gauge_photograph", "grow", "hear", "inspect",
    "inspect_first_off", "inspect_lot", "keep_plan", "layout", "load", "make_file", "make_signals", "new_title",
    "open_ledger", "pack_files", "pack_orders", "plan_file", "plan_lot", "plan_title", "plate", "press", "press_run",
    "promise_orders", "proof", "read_planned", "recalls", "record", "remedy", "sample", "schedule_hall",
    "schedule_works", "stock_run", "survey", "take_in", "take_orders", "tone_bench", "trace", "tree", "what_if",
    "write_demo", "write_part_card",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name in _ACTS:
        return getattr(import_module(_ACTS[name]), name)
    raise AttributeError(f"discwright has no “{name}”; it has {', '.join(sorted(_ACTS))}.")
