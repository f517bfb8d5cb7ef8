"""What is ordered and what is there: lines of an order file and of a stock list, already read and checked."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OrderLine:
    """So many discs of one edition for one account.

    Attributes
    ----------
    order, account : str
        Numbers of the order and of the account.
    name, address_1, address_2, city, region, postcode, country : str
        Where it goes; the country as ISO 3166-1 alpha-2.
    edition : str
        Code of the edition, for example ``NL-004/lp``.
    count : int
    wanted : str
        Day it is wanted there, ISO 8601; empty where nobody said.
    weight : float
        How much it counts against others of the same day when there is too little.
    line : int
        Line of the file it came from, the head being 1; 0 where it came from none.
    """

    order: str
    account: str
    name: str
    address_1: str
    address_2: str
    city: str
    region: str
    postcode: str
    country: str
    edition: str
    count: int
    wanted: str = ""
    weight: float = 1.0
    line: int = 0


@dataclass(frozen=True, slots=True)
class StockLine:
    """So many good discs of one run in one bin.

    Attributes
    ----------
    edition : str
        Code of the edition.
    run : str
        Number of the press run.
    count : int
    bin : str
        Where they stand.
    line : int
        Line of the file it came from, the head being 1; 0 where it came from none.
    """

    edition: str
    run: str
    count: int
    bin: str = ""
    line: int = 0
