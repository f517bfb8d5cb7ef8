"""Address blocks by country: orders as common practice has them, names of countries as people write them."""

from __future__ import annotations

import pytest

from discwright.errors import CallError
from discwright.files.addresses import address_lines, code_of, countries, country_line, languages
from discwright.works.packing import Consignee


def block(country: str, language: str = "en", **more: str) -> tuple[str, ...]:
    parts = {"city": "Town", "region": "Region", "postcode": "123", "address_2": ""} | more
    to = Consignee("A", "Name", "Street 1", country=country, **parts)
    return address_lines(to, language)[2:]


@pytest.mark.parametrize(
    ("country", "lines"),
    # Common practice, as in an open data set of address formats.
    [
        ("CZ", ("123 Town", "CZECHIA")),
        ("DE", ("123 Town", "GERMANY")),
        ("FR", ("123 Town", "FRANCE")),
        ("IT", ("123 Town Region", "ITALY")),
        ("ES", ("123 Town Region", "SPAIN")),
        ("GB", ("Town", "123", "UNITED KINGDOM")),
        ("US", ("Town, Region 123", "UNITED STATES")),
        ("CA", ("Town Region 123", "CANADA")),
        ("AU", ("Town Region 123", "AUSTRALIA")),
        ("NZ", ("Town 123", "NEW ZEALAND")),
        ("JP", ("Town, Region 123", "JAPAN")),
        ("BR", ("Town-Region", "123", "BRAZIL")),
        ("RU", ("Town", "Region", "123", "RUSSIA")),
        ("MX", ("123 Town, Region", "MEXICO")),
        ("HK", ("Town", "Region", "123", "HONG KONG")),
        ("IE", ("Town", "Region", "123", "IRELAND")),
    ],
)
def test_layouts(country: str, lines: tuple[str, ...]) -> None:
    assert block(country) == lines


def test_a_part_that_is_empty_leaves_no_sign_behind() -> None:
    assert block("US", region="") == ("Town 123", "UNITED STATES")
    assert block("US", city="") == ("Region 123", "UNITED STATES")
    assert block("US", postcode="") == ("Town, Region", "UNITED STATES")
    assert block("BR", region="", postcode="") == ("Town", "BRAZIL")
    assert block("US", city="", region="", postcode="") == ("UNITED STATES",)


def test_the_name_of_the_country_is_in_the_senders_language() -> None:
    assert [country_line("CZ", language) for language in ("en", "de", "fr", "pl")] == [
        "CZECHIA", "TSCHECHIEN", "TCHÉQUIE", "CZECHY",
    ]  # fmt: skip
    assert block("AT", "de")[-1] == "ÖSTERREICH"


def test_every_country_has_a_layout_and_a_name_in_every_language() -> None:
    """Published: ISO 3166-1 has 249 codes; XK is used beside them."""
    known = countries()
    assert len(known.layouts) == 250
    assert "XK" in known.layouts
    for language in languages():
        assert set(known.names[language]) == set(known.layouts)
        assert all(name == name.strip() and len(name) > 2 for name in known.names[language].values())
    assert known.needs_postcode | known.needs_region <= set(known.layouts)
    assert all("{city}" in layout for layout in known.layouts.values())


@pytest.mark.parametrize(
    ("text", "code"),
    [("Czechia", "CZ"), ("deutschland", "DE"), (" UK ", "GB"), ("usa", "US"), ("Sverige", "SE"), ("nowhere", "")],
)
def test_names_that_are_written_for_codes(text: str, code: str) -> None:
    assert code_of(text) == code


def test_what_is_no_country_and_no_language() -> None:
    with pytest.raises(CallError) as refusal:
        country_line("XX")
    assert str(refusal.value) == "there is no country “XX”; give its two letters of ISO 3166-1, such as CZ."
    with pytest.raises(CallError, match="names of countries are not known in “la”; choose from en, de, es,"):
        country_line("CZ", "la")
