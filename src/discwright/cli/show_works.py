"""A family tree as text."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from discwright.works.family import STATES


def show_tree(found: dict[str, Any]) -> Iterator[str]:
    """The lines of a family tree as :func:`discwright.acts.works_look.tree` found it."""
    yield f"{found['title']}  {found['name']}"
    parts = found["parts"]
    if not parts:
        yield "no lacquer was cut yet."
    roots = [one for one in parts if one["parent"] is None]
    for edition, side in dict.fromkeys((one["edition"], one["side"]) for one in roots):
        yield ""
        yield f"side {side}, {edition}" if edition else f"side {side}"
        for one in roots:
            if (one["edition"], one["side"]) == (edition, side):
                yield from _branch(one, parts, "")
    for one in found["findings"]:
        accepted = f" (accepted: {one['accepted']})" if one.get("accepted") else ""
        yield f"{one['severity']:4}  line {one['seq']}  {one['code']}  {one['remedy']}{accepted}"


def _branch(part: dict[str, Any], parts: list[dict[str, Any]], indent: str) -> Iterator[str]:
    yield f"{indent}{_shown(part)}"
    for child in [one for one in parts if one["parent"] == part["id"]]:
        yield from _branch(child, parts, indent + "    ")


def _shown(part: dict[str, Any]) -> str:
    sign = "−" if part["sign"] == "-" else "+"
    words = [f"{sign} {part['id']}", part["kind"], STATES[part["state"]]]
    if part["verdict"] and part["verdict"] != part["state"]:
        words.append(part["verdict"])
    if part["pressings"]:
        words.append(f"{part['pressings']} of {part['press_life']} pressings")
    if part["faults_heard"] is not None:
        audible = part["faults_audible"]
        told = "" if audible is None else f", {audible or 'none'} to be heard"
        words.append(f"{part['faults_heard']} fault{'' if part['faults_heard'] == 1 else 's'}{told or ' heard'}")
    if part["marks"]:
        words.append(f"“{' '.join(part['marks'])}”")
    return "  ".join(words)
