"""The verb `press`: what the orders of a title need before a disc is pressed or a tape is copied."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import console, print_json
from discwright.errors import CallError
from discwright.units import number


def press(
    title_file: Annotated[Path, typer.Argument(metavar="TITLE.toml", help="The title file.")],
    edition: Annotated[str | None, typer.Option(metavar="ID", help="This edition only; all without it.")] = None,
    probability: Annotated[
        str, typer.Option(metavar="P", help="With which every count suffices, above 0 and below 1.")
    ] = "0.95",
    share: Annotated[
        str | None, typer.Option("--yield", metavar="Y", help="Good ones among the pressings, e.g. 0.95.")
    ] = None,
    stamper_life: Annotated[
        str | None, typer.Option("--stamper-life", metavar="N", help="Pressings that a stamper lasts on the average.")
    ] = None,
    life_cv: Annotated[
        str | None,
        typer.Option("--life-cv", metavar="CV", help="How lives differ: deviation over mean; 0 for all alike."),
    ] = None,
    stamper_share: Annotated[
        str | None, typer.Option("--stamper-yield", metavar="Y", help="Good ones among the stampers that are grown.")
    ] = None,
    quantity: Annotated[
        str | None, typer.Option("--quantity", metavar="N", help="Good copies, in place of the title file's quantity.")
    ] = None,
    today: Annotated[
        str | None, typer.Option("--today", metavar="DATE", help="The present day; by the clock without it.")
    ] = None,
    settings: Annotated[
        Path | None, typer.Option(metavar="FILE.toml", help="House file that replaces shipped press settings.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """What an order needs: pressings to start, stampers, metal, compound, labels, press hours, and by when each."""
    from discwright.acts.press import PressOrder
    from discwright.acts.press import press as reckon
    from discwright.cli.show_press import show_press

    order = PressOrder(
        edition=edition,
        probability=number(probability, "--probability"),
        share=_number(share, "--yield"),
        stamper_life=_number(stamper_life, "--stamper-life"),
        life_cv=_number(life_cv, "--life-cv"),
        stamper_share=_number(stamper_share, "--stamper-yield"),
        quantity=None if quantity is None else _whole(quantity, "--quantity"),
        today=None if today is None else _day(today, "--today"),
    )
    report = reckon(title_file, order, settings)
    if as_json:
        print_json(report.as_dict())
    else:
        show_press(report, console())


def _number(text: str | None, name: str) -> float | None:
    return None if text is None else number(text, name)


def _whole(text: str, name: str) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", text.strip()):
        raise CallError(f"{name}: “{text[:40]}” is no count; write a whole number such as 300.")
    return int(text)


def _day(text: str, name: str) -> date:
    try:
        if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text.strip()):
            raise ValueError
        return date.fromisoformat(text.strip())
    except ValueError:
        raise CallError(f"{name}: “{text[:40]}” is no date; write one such as 2031-05-30.") from None
