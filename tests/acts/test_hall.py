"""The act: files in, schedule out; late jobs told; planned again as things go. Everything expected is *by hand*."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hall_cases import START, alike, faults, hall, job, late_hours, works_press

from discwright.acts.hall import HallOrder, RefusedJobs, plan_jobs, schedule_hall
from discwright.acts.hall_findings import duration
from discwright.acts.hall_report import HallReport
from discwright.errors import CallError, SettingsError
from discwright.files.hall_plan import open_hall
from discwright.files.hall_settings import PRESS_KEYS
from discwright.files.jobs_csv import HEADS
from discwright.works import hall_planning
from discwright.works.hall_restart import Told

HALL = """
[hall]
zone = "Europe/Vienna"
[[press]]
name = "A"
count = 2
sizes = ["12in"]
on_size = "12in"
on_colour = "black"
[[press]]
name = "Seven"
sizes = ["7in"]
"""
JOBS = """job,edition,format,colour,count,due,weight,ready,waits_for
J1,NL-1/lp,12in-33,black,1500,2031-04-09,1,,
J2,NL-2/lp,12in-33,red,1000,2031-04-10,2,,
J3,NL-3/ep,7in-45,black,2000,2031-04-09,1,,
J4,NL-4/lp,12in-33,black,500,2031-04-11,1,2031-04-09,side A: a verdict
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "HALL.toml").write_text(HALL, encoding="utf-8")
    (tmp_path / "JOBS.csv").write_text(JOBS, encoding="utf-8")
    return tmp_path


def order(folder: Path, **said: object) -> HallOrder:
    usual: dict[str, object] = {
        "now": "2031-04-07T06:00", "hall": folder / "HALL.toml", "jobs": folder / "JOBS.csv", "seconds": 0.5,
    }  # fmt: skip
    return HallOrder(**(usual | said))  # type: ignore[arg-type]


def planned(what: HallOrder) -> HallReport:
    report = schedule_hall(what)
    assert isinstance(report, HallReport)
    return report


def test_from_files_to_a_schedule_that_is_kept_and_drawn(folder: Path) -> None:
    report = planned(order(folder, keep=folder / "kept.json", chart=folder / "chart.svg"))
    assert report.ready
    assert [one.code for one in report.findings] == ["expected"]
    assert faults(report.schedule, report.hall, report.standing) == []
    document = report.document()
    assert open_hall(folder / "kept.json").document == document
    assert document["made_with"]["start_at"] == "2031-04-07T06:00+02:00"
    assert (document["jobs"], document["late"], document["weighted_late_h"], document["gap_percent"]) == (
        4,
        0,
        0.0,
        0.0,
    )
    # J1: 1500 · 25 s / 0.85 = 736 min, with stampers after 1000 discs: 40; 40 before the first disc.
    first = next(one for one in document["schedule"] if one["job"] == "J1")
    assert (first["run_minutes"], first["swaps"], first["stampers_minutes"]) == (776, 1, 40)
    assert (first["begin_at"], first["start_at"]) == ("2031-04-07T06:00+02:00", "2031-04-07T06:40+02:00")
    assert report.as_dict()["kept"] == str(folder / "kept.json")


def test_the_same_files_have_the_same_schedule(folder: Path) -> None:
    one, other = (planned(order(folder)).document() for _ in range(2))
    assert one == other


def test_no_job_begins_before_the_start(folder: Path) -> None:
    report = planned(order(folder, start="2031-04-08T06:00"))
    assert report.schedule.start.isoformat() == "2031-04-08T06:00:00+02:00"
    assert all(place.begin >= 0 for place in report.schedule.places)


def test_late_jobs_are_stops_with_their_reason() -> None:
    jobs = [job("long", 900, 600), job("a", 100, 100, 3.0), job("b", 100, 150)]
    report = plan_jobs(alike(2), jobs, START, seconds=0.5)
    assert not report.ready
    assert {one.place.job.id for one in report.late} >= {"long"}
    (first, *_) = [one for one in report.findings if "long" in one.remedy]
    assert (first.code, first.severity, first.unit) == ("late", "stop", "h")
    assert first.value == pytest.approx(report.late[0].place.late / 60, abs=0.01)
    assert "take longer than there is time on any press" in first.remedy
    assert report.document()["weighted_late_h"] == pytest.approx(late_hours(report.schedule), abs=1e-3)


def test_what_has_no_place_is_a_stop() -> None:
    report = plan_jobs(
        alike(1), [job("a", 10, size="7in"), job("b", 10, waits_for="side A: a stamper")], START, seconds=0
    )
    assert [(one.code, one.severity) for one in report.findings] == [("unplanned", "stop")] * 2
    assert report.findings[0].remedy == (
        "a has no place: it fits no press: P1 comes nearest and lacks size 7in. Add the ability or a shift to a press, "
        "or mend the job."
    )
    assert "Say from when on it can be planned (ready)." in report.findings[1].remedy


def test_every_reason_is_told_in_words() -> None:
    """By hand: E1 is on the press; 500 pressings with 85 % at 30 s are 295 minutes, a change of stampers 40."""
    jobs = [
        job("over", 10, -60), job("work", 3000, 600, edition="E2"), job("c", 500, 300, 9.0), job("d", 500, 600,
        edition="E4"), job("ready", 100, 700, ready=START + timedelta(minutes=690)), job("e", 400, 560, 3.0,
        edition="E5"),
    ]  # fmt: skip
    on = works_press().on.__class__("NL-1/lp", "12in", "black")
    report = plan_jobs(hall(works_press("P1", on=on)), jobs, START, seconds=0.0)
    told = {one.place.job.id: one.reason for one in report.late}
    assert (told["over"], told["work"], told["ready"]) == ("overdue", "work", "ready")
    assert {"press", "changes"} & set(told.values())
    words = " ".join(one.remedy for one in report.findings)
    for part in ("agree on another day", "make two jobs of it", "ready too late even for an empty hall", "It waits"):
        assert part in words


def test_planned_again_as_it_really_went(folder: Path) -> None:
    kept = folder / "kept.json"
    before = planned(order(folder, keep=kept))
    where = {place.job.id: place.press for place in before.schedule.places}
    (folder / "DONE.csv").write_text(
        f"job,made,press,state\nJ1,600,{where['J1']},on\nJ3,2000,Seven,done\n", encoding="utf-8"
    )
    again = planned(order(folder, hall=None, jobs=None, kept=kept, done=folder / "DONE.csv", now="2031-04-08T06:00"))
    assert again.done == ("J3",)
    first = next(place for place in again.schedule.places if place.job.id == "J1")
    assert (first.press, first.begin, first.change.minutes, first.job.left) == (where["J1"], 0, 0, 900)
    assert faults(again.schedule, again.hall, again.standing) == []
    assert again.moved is not None
    assert "not_told" in [one.code for one in again.findings]


def test_planned_again_as_if_it_had_been_kept_to(folder: Path) -> None:
    kept, second = folder / "kept.json", folder / "second.json"
    planned(order(folder, keep=kept))
    again = planned(order(folder, hall=None, jobs=None, kept=kept, now="2031-04-08T06:00", keep=second))
    assert "as_planned" in [one.code for one in again.findings]
    assert "J1" in again.done
    assert faults(again.schedule, again.hall, again.standing) == []
    # What was done then is done still.
    third = planned(order(folder, hall=None, jobs=None, kept=second, now="2031-04-09T06:00"))
    assert set(third.done) >= set(again.done)


def test_jobs_from_anywhere_with_what_was_told() -> None:
    report = plan_jobs(alike(1), [job("a", 100), job("b", 50)], START, told=[Told("a", 60, "P1")], seconds=0.0)
    first = report.schedule.places[0]
    assert (first.job.id, first.run, report.moved) == ("a", 40, None)


def test_a_wrong_line_refuses_everything(folder: Path) -> None:
    (folder / "JOBS.csv").write_text(JOBS + "J5,NL,12in,black,x,,,,\n", encoding="utf-8")
    refused = schedule_hall(order(folder, keep=folder / "kept.json"))
    assert isinstance(refused, RefusedJobs)
    assert [(one.line, one.code) for one in refused.findings] == [(6, "wrong_count")]
    assert not (folder / "kept.json").exists()
    (folder / "JOBS.csv").write_text(JOBS, encoding="utf-8")
    (folder / "DONE.csv").write_text("job,made\nJ9,1\n", encoding="utf-8")
    assert isinstance(schedule_hall(order(folder, done=folder / "DONE.csv")), RefusedJobs)


def test_a_stop_leaves_no_file(folder: Path) -> None:
    def stop(step: str, done: float) -> None:
        raise KeyboardInterrupt

    before = sorted(folder.iterdir())
    with pytest.raises(KeyboardInterrupt):
        schedule_hall(order(folder, keep=folder / "kept.json", chart=folder / "chart.png"), stop)
    assert sorted(folder.iterdir()) == before


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"hall": None}, "a hall is needed; name HALL.toml with --hall, or a kept schedule with --from."),
        ({"jobs": None}, "jobs are needed; name JOBS.csv with --jobs, or a kept schedule with --from."),
        ({"chart": Path("chart.pdf")}, "a chart is a picture; name a file that ends with .png or .svg."),
        ({"start": "2031-04-06"}, "the schedule cannot start before now; give a later --start, or an earlier --now."),
        ({"now": "soon"}, "--now: “soon” is no day or time"),
        ({"seconds": -1.0}, "-1 s of work cannot be put into a schedule"),
    ],
)
def test_wrong_calls(folder: Path, said: dict[str, object], words: str) -> None:
    with pytest.raises(CallError) as refusal:
        schedule_hall(order(folder, **said))
    assert words in str(refusal.value)


def test_a_name_that_is_taken_is_refused_before_any_work(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hall_planning, "pose", None)
    with pytest.raises(CallError, match="is there already"):
        schedule_hall(order(folder, keep=folder / "JOBS.csv"))


def test_a_wrong_hall(folder: Path) -> None:
    (folder / "HALL.toml").write_text("[hall]\n", encoding="utf-8")
    with pytest.raises(SettingsError, match="has no press"):
        schedule_hall(order(folder))


def test_seconds_of_the_start_are_left_out() -> None:
    report = plan_jobs(alike(1), [job("a", 10)], START + timedelta(seconds=31), seconds=0.0)
    assert report.schedule.start == START
    assert isinstance(report.schedule.start, datetime)


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(20, "20 min"), (60, "1 h"), (260, "4 h 20 min"), (1440, "1 d"), (1500, "1 d 1 h"), (4561, "3 d 4 h")],
)
def test_how_long_in_words(minutes: int, words: str) -> None:
    assert duration(minutes) == words


def keys_in(value: object) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*(keys_in(inner) for inner in value.values()))
    return set().union(*(keys_in(inner) for inner in value)) if isinstance(value, list) else set()


def test_every_key_and_every_key_of_a_hall_is_explained(folder: Path) -> None:
    page = (Path(__file__).parents[2] / "docs" / "hall.md").read_text(encoding="utf-8")
    late = plan_jobs(alike(1), [job("a", 900, 600), job("b", 5, size="7in")], START, seconds=0.0)
    keys = keys_in(late.as_dict()) | keys_in(planned(order(folder)).as_dict()) | set(HEADS) | set(PRESS_KEYS)
    sizes = {"7in", "10in", "12in"}  # of cycle_s
    assert {"gap_percent", "behind", "after_black_minutes"} <= keys
    finding = {"code", "severity", "time_s", "band", "turn", "radius_mm", "value", "limit", "unit", "remedy"}
    assert [
        key for key in sorted(keys - sizes - finding) if not re.search(rf"(?<![\w-]){re.escape(key)}(?![\w-])", page)
    ] == []
