"""Address blocks by country: the order of town, region and postcode, and the country's name as its sender writes it.

One country writes the postcode before the town, another after it or on a line of its own: never one layout for all. The
idea of country templates is that of UPU S42; the last line is the country in capitals, in the language of the country
that sends.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from discwright.errors import CallError
from discwright.works.packing import Consignee

_FILE = "addresses.toml"
_PART = re.compile(r"\{(city|region|postcode)\}")
_LINE = " / "


@dataclass(frozen=True)
class Countries:
    """What is known of countries.

    Attributes
    ----------
    layouts : dict of str to str
        Layout by ISO 3166-1 alpha-2.
    names : dict of str to dict of str to str
        By language, the name of each country.
    needs_postcode, needs_region : frozenset of str
        Countries where nothing arrives without.
    """

    layouts: dict[str, str]
    names: dict[str, dict[str, str]]
    needs_postcode: frozenset[str]
    needs_region: frozenset[str]


@lru_cache(maxsize=1)
def countries() -> Countries:
    """The shipped table of countries."""
    tables = tomllib.loads((resources.files("discwright") / "data" / _FILE).read_text(encoding="utf-8"))
    layouts = {
        code: tables["layouts"][layout]["value"]
        for layout, entry in tables["countries"].items()
        for code in entry["value"].split()
    }
    names = {
        language: dict(one.split(" ", 1) for one in re.split(r";\s+", " ".join(entry["value"].split())))
        for language, entry in tables["names"].items()
    }
    needs = {name: frozenset(entry["value"].split()) for name, entry in tables["needs"].items()}
    return Countries(layouts, names, needs["postcode"], needs["region"])


def languages() -> tuple[str, ...]:
    """Languages in which the names of countries are known."""
    return tuple(countries().names)


def code_of(text: str) -> str:
    """The code of a country whose name somebody wrote instead; empty where it is no country's.

    Parameters
    ----------
    text : str
        In any language of :func:`languages`.
    """
    return _codes().get(text.strip().casefold(), "")


@lru_cache(maxsize=1)
def _codes() -> dict[str, str]:
    known = {"uk": "GB", "usa": "US", "england": "GB", "scotland": "GB", "wales": "GB", "great britain": "GB"}
    return known | {name.casefold(): code for names in countries().names.values() for code, name in names.items()}


def country_line(code: str, language: str = "en") -> str:
    """A country's name in capitals.

    Parameters
    ----------
    code : str
        ISO 3166-1 alpha-2.
    language : str
        Of the country that sends.

    Raises
    ------
    CallError
        If there is no such country or language.
    """
    known = countries().names
    if language not in known:
        raise CallError(f"names of countries are not known in “{language[:20]}”; choose from {', '.join(known)}.")
    if code not in known[language]:
        raise CallError(f"there is no country “{code[:20]}”; give its two letters of ISO 3166-1, such as CZ.")
    return known[language][code].upper()


def address_lines(to: Consignee, language: str = "en") -> tuple[str, ...]:
    """The lines of an address block, from the name down to the country.

    Parameters
    ----------
    to : Consignee
    language : str
        Of the country that sends.

    Returns
    -------
    tuple of str
        No line is empty.

    Raises
    ------
    CallError
        If there is no such country or language.
    """
    last = country_line(to.country, language)
    parts = {"city": to.city, "region": to.region, "postcode": to.postcode}
    below = [_filled(line, parts) for line in countries().layouts[to.country].split(_LINE)]
    return tuple(line for line in (to.name, to.address_1, to.address_2, *below, last) if line)


def _filled(line: str, parts: dict[str, str]) -> str:
    """One line of a layout: a part that is empty goes, and with it what stands between it and the part before."""
    filled, at = "", 0
    for match in _PART.finditer(line):
        value = parts[match[1]]
        if value:
            filled += (line[at : match.start()] if filled else "") + value
        at = match.end()
    return filled
