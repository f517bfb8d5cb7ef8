"""The packing bench put together: what waits, what is short, packings with walks and cartons, one carton large."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from discwright.acts.packings import Kept, Packing
from discwright.desk.dock_words import carton_href, cartons, discs, home, kg, number, packing_href, sscc_words
from discwright.desk.packing_parts import AccountWaiting, CartonCard, CartonRow, PackingLink, ShortRow, WalkRow
from discwright.desk.page_parts import Fact
from discwright.desk.run_words import run_href
from discwright.desk.show_board import new_key
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import at_words
from discwright.files.addresses import address_lines
from discwright.files.packing_settings import PackingSettings
from discwright.works.allocation import Allocation, Granted, bin_order
from discwright.works.packing import Bundle, Carton

#: Packings that the bench remembers on its first page.
LAST = 12
_FULL, _PART = Badge("ready", "full"), Badge("warn", "part-filled")


# What waits --------------------------------------------------------------------------------------------


def waiting_facts(allocation: Allocation) -> tuple[Fact, ...]:
    """All that waits in a few numbers."""
    lines = [one.line for one in allocation.granted]
    can = sum(one.count for one in allocation.granted)
    return (
        Fact("wait", number(sum(one.count for one in lines)), "discs of open orders"),
        Fact("can be packed now", number(can), "they stand in bins"),
        Fact("accounts", number(len({one.account for one in lines}))),
        Fact("editions", number(len({one.edition for one in lines}))),
        Fact("lines", number(len(lines))),
    )


def accounts_waiting(allocation: Allocation) -> tuple[AccountWaiting, ...]:
    """One row for each account, the earliest wanted first."""
    of: dict[str, list[Granted]] = {}
    for one in allocation.granted:
        of.setdefault(one.line.account, []).append(one)
    rows = [_account(account, own) for account, own in of.items()]
    return tuple(sorted(rows, key=lambda one: (not one.may, one.wanted or "9999", bin_order(one.account))))


def _account(account: str, own: Sequence[Granted]) -> AccountWaiting:
    wanted, can = sum(one.line.count for one in own), sum(one.count for one in own)
    if can == wanted:
        badge = Badge("ready", "all here")
    else:
        badge = Badge("warn", f"{discs(wanted - can)} short") if can else Badge("unplanned", "nothing here")
    days = sorted(one.line.wanted for one in own if one.line.wanted)
    return AccountWaiting(
        account, home(own[0].line), number(len(own)), number(wanted), number(can), days[0] if days else "", badge,
        can > 0,
    )  # fmt: skip


def short_rows(allocation: Allocation) -> tuple[ShortRow, ...]:
    """Lines that do not get all they ordered, those that miss most first."""
    return tuple(
        ShortRow(one.account, one.order, one.edition, one.wanted, number(one.ordered), number(one.granted),
                 number(one.missing))
        for one in sorted(allocation.short, key=lambda one: (-one.missing, bin_order(one.account)))
    )  # fmt: skip


# Packings ----------------------------------------------------------------------------------------------


def packing_links(found: Sequence[Packing], zone: ZoneInfo) -> tuple[PackingLink, ...]:
    """Packings, the newest first."""
    return tuple(_link(one, zone) for one in sorted(found, key=lambda one: one.at, reverse=True)[:LAST])


def _link(one: Packing, zone: ZoneInfo) -> PackingLink:
    own = [kept.carton for kept in one.kept]
    return PackingLink(
        packing_href(one.id), at_words(one.at, zone), cartons(len(own)), discs(sum(carton.count for carton in own)),
        _accounts(len({carton.account for carton in own})), packing_badge(one),
    )  # fmt: skip


def _accounts(count: int) -> str:
    return f"{number(count)} {'account' if count == 1 else 'accounts'}"  # fmt: skip


def packing_badge(one: Packing) -> Badge:
    """How much of a packing has left."""
    there = [kept.carton for kept in one.kept if not kept.carton.opened]
    gone = sum(bool(carton.loaded_at) for carton in there)
    if not there:
        return Badge("gone", "all opened again")
    if gone == len(there):
        return Badge("done", "all loaded")
    return Badge("in-hand", f"{gone} of {len(there)} loaded") if gone else Badge("stored", "all here")


def packing_facts(one: Packing, house: PackingSettings, zone: ZoneInfo) -> tuple[Fact, ...]:
    """A packing in a few numbers."""
    packed = one.packed
    mass = sum(house.weights.bundle_kg(bundle) for bundle in packed.bundles)
    return (
        Fact("packed", at_words(one.at, zone)),
        Fact("cartons", number(len(packed.cartons))),
        Fact("bundles", number(len(packed.bundles))),
        Fact("discs", number(sum(carton.count for carton in packed.cartons))),
        Fact("accounts", number(len({carton.account for carton in packed.cartons}))),
        Fact("weight", kg(mass), "cartons and bundles, no pallet"),
    )


def walk_rows(one: Packing) -> tuple[WalkRow, ...]:
    """The pick list in bin order."""
    return tuple(
        WalkRow(row.bin, row.edition, row.run, row.account, row.order, number(row.count),
                str(row.first) if row.first == row.last else f"{row.first}–{row.last}")
        for row in one.packed.pick_list
    )  # fmt: skip


def state_badge(kept: Kept) -> Badge:
    """Where a carton is."""
    if kept.carton.opened:
        return Badge("gone", "opened again")
    if kept.carton.loaded_at:
        return Badge("done", "loaded")
    return Badge("stop", "recalled: set aside") if kept.recalled else Badge("stored", "here")


def fill_badge(carton: Carton) -> Badge:
    """Full, or part-filled with how many."""
    return _FULL if carton.full else replace(_PART, words=f"part-filled: {carton.count} of {carton.capacity}")


def carton_rows(one: Packing) -> tuple[CartonRow, ...]:
    """The cartons of a packing."""
    return tuple(
        CartonRow(
            str(carton.number), packing_href(one.id, carton.number), carton.key, carton.account, carton.edition,
            number(carton.count), str(carton.bundle), kept.carton.dock, fill_badge(carton), state_badge(kept),
        )
        for carton, kept in zip(one.packed.cartons, one.kept, strict=True)
    )  # fmt: skip


# One carton --------------------------------------------------------------------------------------------


def carton_card(one: Packing, carton: Carton, house: PackingSettings, *, may_open: bool) -> CartonCard:
    """A carton as it lies on the scale.

    Parameters
    ----------
    one : Packing
    carton : Carton
        Of this packing.
    house : PackingSettings
    may_open : bool
        Whoever looks may open it again.
    """
    kept, bundle = one.kept[carton.number - 1], one.packed.bundles[carton.bundle - 1]
    here, last = state_badge(kept), len(one.kept)
    mass, bundle_mass = house.weights.carton_kg(carton), house.weights.bundle_kg(bundle)
    openable = may_open and not kept.carton.opened and not kept.carton.loaded_at
    return CartonCard(
        number=str(carton.number), of=str(last), sscc=carton.key, sscc_words=sscc_words(carton.key),
        href=carton_href(carton.key), account=carton.account,
        address=address_lines(carton.consignee, house.language), order=carton.order, edition=carton.edition,
        run=carton.run, run_href=run_href(carton.run),
        picks=tuple((pick.bin, number(pick.count)) for pick in carton.picks), count=number(carton.count),
        capacity=number(carton.capacity), fill=fill_badge(carton), badge=here,
        place=f"{carton.place} of {carton.of} for this address", bundle=_bundle_words(bundle), dock=kept.carton.dock,
        mass=kg(mass), caution=_caution(mass, house), bundle_mass=kg(bundle_mass),
        bundle_caution=_caution(bundle_mass, house),
        back_href=packing_href(one.id, carton.number - 1) if carton.number > 1 else "",
        next_href=packing_href(one.id, carton.number + 1) if carton.number < last else "",
        label_href=f"/packing/{one.id}/labels.pdf?carton={carton.number}",
        key=new_key() if openable else "", bin=carton.picks[0].bin,
    )  # fmt: skip


def _bundle_words(bundle: Bundle) -> str:
    first, last = bundle.cartons[0].number, bundle.cartons[-1].number
    which = f"carton {first} alone" if first == last else f"cartons {first} to {last}"
    return f"bundle {bundle.number}: {which}{'' if bundle.full else ', not a full one'}"


def _caution(mass_kg: float, house: PackingSettings) -> str:
    if not house.weights.too_heavy(mass_kg):
        return ""
    return f"over {house.weights.one_person_kg:g} kg: lift it with two, or with a lift"
