"""What lies in a folder, ids that never become paths, and what-ifs that overwrite nothing."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from discwright.desk.shelf import NotThereError, Shelf, free_place


def what_if(shelf: Shelf, base: str) -> str:
    """A what-if of a plan, made by copying it; its id."""
    plan = shelf.plan(base)
    out = shelf.new_what_if(plan)
    shutil.copytree(plan.folder, out)
    shelf.forget()
    return shelf.id_of(out)


def test_everything_is_found(planned_folder: Path) -> None:
    found = Shelf(planned_folder).found()
    assert set(found.plans) == {"weather-ship~lp-A", "bare"}
    assert [one.title.name for one in found.titles.values() if one.title] == ["Notes from a Weather Ship"]
    assert [[path.name for path in one.files] for one in found.loose.values()] == [["10 last.wav", "2 later.wav"]]


@pytest.mark.parametrize("id_", ["../bare", "/etc/passwd", "bare/../bare", "", "%2e%2e", "bare\x00", "nope", "bare/"])
def test_an_id_is_looked_up_and_never_a_path(planned_folder: Path, id_: str) -> None:
    shelf = Shelf(planned_folder)
    with pytest.raises(NotThereError, match="go back to the list of titles"):
        shelf.plan(id_)
    with pytest.raises(NotThereError, match="go back to the list of titles"):
        shelf.title(id_)


def test_names_that_look_alike_get_ids_of_their_own(folder: Path) -> None:
    for name in ("a b", "a-b", "a~b", "ä b"):
        shutil.copytree(folder / "bare", folder / name)
    plans = Shelf(folder).found().plans
    assert len(plans) == 6
    assert all(set(one) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_.~-") for one in plans)


def test_links_and_hidden_folders_lead_nowhere(folder: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    shutil.copytree(folder / "bare", outside)
    (folder / "linked").symlink_to(outside)
    shutil.copytree(folder / "bare", folder / ".hidden")
    assert len(Shelf(folder).found().plans) == 2


def test_a_broken_plan_or_title_troubles_nobody_else(folder: Path) -> None:
    (folder / "bare" / "plan.json").write_text("{", encoding="utf-8")
    (folder / "broken.toml").write_text("[title]\nname = 1\n", encoding="utf-8")
    found = Shelf(folder).found()
    assert len(found.plans) == 1
    assert found.titles["broken"].faults
    assert found.titles["broken"].title is None


def test_a_what_if_is_kept_beside_and_nothing_is_overwritten(folder: Path) -> None:
    shelf = Shelf(folder)
    base = next(one for one in shelf.found().plans if "lp-A" in one)
    first, second = what_if(shelf, base), what_if(shelf, base)
    assert shelf.plan(first).base == base
    assert {one.id for one in shelf.siblings(shelf.plan(base))} == {base, first, second}
    before = (folder / "weather-ship" / "lp-A" / "plan.json").read_bytes()
    assert shelf.keep(shelf.plan(first)).name == "lp-A-2"
    assert shelf.keep(shelf.plan(second)).name == "lp-A-3"
    assert (folder / "weather-ship" / "lp-A" / "plan.json").read_bytes() == before
    assert not list((shelf.own / "whatifs").iterdir())
    title = next(iter(shelf.found().titles.values()))
    assert {one.folder.name for one in shelf.plans_of(title, "lp", "A")} == {"lp-A", "lp-A-2", "lp-A-3"}


def test_what_is_dropped_can_be_brought_back(folder: Path) -> None:
    shelf = Shelf(folder)
    id_ = what_if(shelf, "bare")
    shelf.drop(shelf.plan(id_))
    assert shelf.plan(id_).dropped
    assert shelf.siblings(shelf.plan("bare"))[-1].id == id_
    shelf.drop(shelf.plan(id_), False)
    assert not shelf.plan(id_).dropped


def test_a_plan_of_another_title_of_the_same_name_stays_with_its_own(folder: Path) -> None:
    shutil.copytree(folder / "weather-ship", folder / "elsewhere")
    shelf = Shelf(folder)
    for title in shelf.found().titles.values():
        assert [one.folder.parent for one in shelf.all_plans_of(title)] == [title.path.parent]


def test_a_plan_made_anew_is_read_anew(folder: Path) -> None:
    shelf = Shelf(folder)
    old = shelf.plan("bare")
    document = json.loads((old.folder / "plan.json").read_text(encoding="utf-8"))
    document["fingerprint"] = "0" * 64
    (old.folder / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    shelf.forget()
    assert shelf.plan("bare").cache_key != old.cache_key


def test_a_free_place_is_never_one_that_is_there(tmp_path: Path) -> None:
    for wanted in ("lp-A", "lp-A-2", "lp-A-3"):
        place = free_place(tmp_path, "lp-A")
        assert place.name == wanted
        place.mkdir()
