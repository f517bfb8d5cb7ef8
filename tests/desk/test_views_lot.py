"""A lot from its plan to what becomes of it: entered by taps and numbers, judged by the desk, never twice."""

from __future__ import annotations

import html
import json
import re
from typing import Any

import pytest
from pressed import ANN, made

from discwright.acts.lots import inspect_lot, plan_lot
from discwright.acts.runs import press_run, run_for
from discwright.desk.lot_entry import MOST_DEFECTS, PICTURE_PX
from discwright.works import run_events as r
from discwright.works.store.ledger import Order

RUN, LOT = "/runs/RU9-0", "/runs/RU9-0/lot"
#: Half of the picture in mm (by hand: 301 mm across, and 18 mm of room at each side).
HALF_MM = 150.5 + 18.0


@pytest.fixture
def lot(hall: Any) -> Any:
    """The run with 500 good discs that wait to be inspected."""
    made(hall.ledger.append(Order(r.FirstOff(verdict="pass", played="pass"), "Ann", part="RU9-0")))
    made(press_run(hall.ledger, "RU9-0", 520, 500, ANN))
    return hall


def text_of(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


class Inspecting:
    """The form of a lot, pressed again and again as a browser without script does it."""

    def __init__(self, hall: Any, path: str = LOT) -> None:
        self.hall = hall
        self.page = hall.client.get(path).text

    @property
    def fields(self) -> dict[str, str]:
        read: dict[str, str] = self.hall.read(self.page, LOT)
        return read

    def press(self, do: str = "", status: int = 200, **more: str) -> str:
        """Press a button of the form; the words of the page that comes."""
        sent = self.fields | ({"do": do} if do else {}) | more
        answer = self.hall.client.post(LOT, data=sent)
        assert answer.status_code == status, text_of(answer.text)
        if status != 303:
            self.page = answer.text
        return text_of(answer.text) if status != 303 else answer.headers["location"]

    def entered(self) -> list[list[Any]]:
        return list(json.loads(self.fields["defects"] or "[]"))


def tapped(x_mm: float, y_mm: float, size: int = PICTURE_PX) -> dict[str, str]:
    """A tap so far right of and below the middle, as a browser tells of it."""
    pixels = [round((one / HALF_MM + 1) / 2 * size) for one in (x_mm, y_mm)]
    return {"face.x": str(pixels[0]), "face.y": str(pixels[1]), "picture_px": str(size)}


# The plan ----------------------------------------------------------------------------------------------


def test_the_plan_of_each_class_and_the_disc_to_take_next(lot: Any) -> None:
    page = lot.text(LOT)
    # Published (ISO 2859-1): a lot of 500 at level II is letter H, n = 50; AQL 1.0: 1/2; AQL 2.5: 3/4.
    for words in ("critical none in the sample normal 50 0 1", "major AQL 1 % normal 50 1 2",
                  "minor AQL 2.5 % normal 50 3 4", "Tightened with 2 of 5 lots in a row refused."):  # fmt: skip
        assert words in page, words
    first = min(plan_lot(lot.ledger, "RU9-0").take)
    assert f"take disc {first} disc 1 of 50 in the sample" in page
    picture = lot.client.get(f"{LOT}/oc.svg?class=major&count=500&level=II")
    assert picture.headers["content-type"] == "image/svg+xml"
    assert "50 discs of 500, accepted with 1, refused with 2" in picture.text
    assert lot.client.get(f"{LOT}/oc.svg?class=critical").status_code == 404
    assert lot.client.get(f"{LOT}/oc.svg?class=grave").status_code == 422


def test_another_size_and_another_level(lot: Any) -> None:
    page = lot.text(f"{LOT}?count=100&level=I")
    # Published: a lot of 100 at level I is letter D; at AQL 1.0 the arrow leads to n = 13, 0/1.
    assert "major AQL 1 % normal 13 0 1" in page
    for asked, words in (("count=501", "has 500 discs to inspect, not 501"), ("count=x", "is not a number"),
                         ("level=IX", "no inspection level")):  # fmt: skip
        assert words in lot.text(f"{LOT}?{asked}", 422)


def test_discs_are_taken_in_the_order_in_which_they_lie(lot: Any) -> None:
    form, sample = Inspecting(lot), sorted(plan_lot(lot.ledger, "RU9-0").take)
    assert f"take disc {sample[1]} disc 2 of 50" in form.press("next")
    assert f"take disc {sample[2]} disc 3 of 50" in form.press("next")
    assert f"take disc {sample[1]} disc 2 of 50" in form.press("back")
    assert form.page.count(", looked at") == 2
    assert f"take disc {sample[49]} disc 50 of 50" in form.press("disc-49")
    assert f"take disc {sample[49]}" in form.press("next")  # there is no other


# Entering ----------------------------------------------------------------------------------------------


def test_a_tap_enters_the_chosen_word_at_its_place(lot: Any) -> None:
    form = Inspecting(lot)
    disc = min(plan_lot(lot.ledger, "RU9-0").take)
    # By hand: 71 mm left of the middle and 71 above it is 100.4 mm from it, at 45° against the clock from the top.
    told = form.press(word="scratch", hearing="heard", **tapped(-71.0, -71.0))
    (entry,) = form.entered()
    assert entry[:4] == ["scratch", "heard", disc, "A"]
    assert entry[4] == pytest.approx(100.41, abs=0.6)  # half a pixel is 0.26 mm
    assert entry[5] == pytest.approx(45.0, abs=0.4)
    # By the house's table a scratch that is heard is a major defect.
    assert "1 defect on 1 disc, by their worst: 1 major." in told
    assert re.search(r"1 scratch heard major \d+ A 100\.\d mm, 4[45]\.\d°", told)
    drawn = re.search(r'src="data:image/svg\+xml;base64,([^"]+)"', form.page)
    assert drawn is not None
    # The word stays chosen, the place does not.
    assert (form.fields["word"], form.fields["radius_mm"]) == ("scratch", "")


def test_the_picture_may_have_any_size(lot: Any) -> None:
    for size in (320, 900):
        form = Inspecting(lot)
        form.press(word="pit", **tapped(0.0, 90.0, size))
        assert form.entered()[0][4] == pytest.approx(90.0, abs=0.6)
        assert form.entered()[0][5] == pytest.approx(180.0, abs=0.5)  # by hand: below the middle


def test_numbers_and_a_cross_do_the_same_without_a_tap(lot: Any) -> None:
    form = Inspecting(lot)
    form.press("place", word="pit", radius_mm="101,5", angle_deg="45")
    form.press("side-B")
    form.press("cross", **{"cross.x": "320", "cross.y": "100", "picture_px": "640"})
    form.press("bare", word="hole-tight")
    assert [one[0] for one in form.entered()] == ["pit", "pit", "hole-tight"]
    assert [one[3] for one in form.entered()] == ["A", "B", ""]
    assert form.entered()[0][4:] == [101.5, 45.0]
    # By hand: 220 of 320 pixels above the middle are 0.6875 of 168.5 mm.
    assert form.entered()[1][4:] == [115.8, 0.0]
    assert form.entered()[2][4:] == [None, None]


#: What is pressed with a pit entered already, and what is said to it.
WRONG = (
    ({"word": "", "face.x": "320", "face.y": "100"}, "No word is chosen"),
    ({"word": "pit", "face.x": "0", "face.y": "0"}, "That is beside the disc"),
    ({"word": "pit", "do": "place", "radius_mm": "200", "angle_deg": "3"}, "is not on the disc"),
    ({"word": "pit", "do": "place", "radius_mm": "80", "angle_deg": ""}, "A place has a radius and an angle"),
    ({"word": "pit", "do": "place", "radius_mm": "1,234", "angle_deg": "3"}, "could mean a thousand"),
    ({"word": "pit", "picture_px": "9999999", "face.x": "3", "face.y": "3"}, "Where it is was not sent"),
)


def test_what_cannot_be_is_said_and_what_was_entered_stays(lot: Any) -> None:
    form = Inspecting(lot)
    form.press("bare", word="pit")
    for sent, sentence in WRONG:
        own = dict(sent)
        assert sentence in form.press(own.pop("do", ""), 422, **own)
        assert 'role="alert"' in form.page
        assert len(form.entered()) == 1
    for sent, sentence in (({"word": "click"}, "no defect “click”"), ({"hearing": "felt"}, "cannot be “felt”")):
        assert sentence in form.press("bare", 422, **sent)


def test_the_same_press_sent_twice_and_a_page_loaded_again_double_nothing(lot: Any) -> None:
    form = Inspecting(lot)
    sent = form.fields | {"word": "pit"} | tapped(10.0, 90.0)
    pages = [lot.client.post(LOT, data=sent).text for _ in range(3)]
    # The key of the lot stays the same all the way, so even the pages are the same.
    assert pages[1:] == pages[:2]
    form.page = pages[0]
    assert len(form.entered()) == 1
    form.press("remove-1")
    assert form.entered() == []
    assert run_for(lot.ledger, "RU9-0")[1].lots == ()  # nothing is in the ledger before the verdict


#: Fields that no form of the desk holds.
HELD = (
    "x", "{}", "[1]", '[["pit","seen",1,"A",80]]', '[["pit","seen","1","A",80,3]]', '[["pit","seen",999,"A",80,3]]',
    '[["pit","seen",{disc},"C",80,3]]', '[["pit","seen",{disc},"A",NaN,3]]', '[["pit","seen",{disc},"A",80,null]]',
    '[["pit","seen",{disc},"",80,3]]', '[["<b>x","seen",{disc},"A",80,3]]', "[" * 5000,
    '[["pit","seen",{disc},"A",80,Infinity]]', '[["pit","felt",{disc},"A",80,3]]',
)  # fmt: skip


def test_a_form_that_was_changed_on_its_way_is_not_believed(lot: Any) -> None:
    form = Inspecting(lot)
    disc = str(min(plan_lot(lot.ledger, "RU9-0").take))
    for held in HELD:
        for do in ("verdict", "next"):
            sent = form.fields | {"defects": held.replace("{disc}", disc), "do": do, "looked": "on"}
            answer = lot.client.post(LOT, data=sent)
            assert answer.status_code == 422, held
            assert 'role="alert"' in answer.text
            assert "<b>x" not in answer.text
    assert run_for(lot.ledger, "RU9-0")[1].lots == ()


def test_where_the_plan_has_changed_what_still_fits_stays(lot: Any) -> None:
    form = Inspecting(lot)
    disc, other = sorted(plan_lot(lot.ledger, "RU9-0").take)[0], 1
    assert other != disc  # disc 1 is not in the sample
    held = json.dumps([["pit", "seen", disc, "A", 80, 3], ["pit", "seen", other, "A", 80, 3]])
    assert "disc 1 is not in the sample" in form.press("next", 422, defects=held)
    assert form.entered() == [["pit", "seen", disc, "A", 80, 3]]


def test_no_more_defects_than_a_form_holds(lot: Any) -> None:
    form = Inspecting(lot)
    disc = min(plan_lot(lot.ledger, "RU9-0").take)
    many = json.dumps([["label-off-register", "heard", disc, "A", 101.5, 345.5]] * MOST_DEFECTS)
    sent = form.fields | {"defects": many, "word": "pit", "do": "bare"}
    answer = lot.client.post(LOT, data=sent)
    assert answer.status_code == 422  # and not 413: the form of so many still fits
    assert "are enough to refuse a lot" in answer.text


# The verdict -------------------------------------------------------------------------------------------


def test_a_lot_is_judged_once_and_put_into_stock(lot: Any) -> None:
    form = Inspecting(lot)
    form.press("place", word="pit", radius_mm="80", angle_deg="200")
    told = form.press("verdict", 422)
    assert "its whole sample was looked at" in told
    assert len(form.entered()) == 1
    sent = form.fields | {"do": "verdict", "looked": "on", "note": "by daylight"}
    there = {lot.client.post(LOT, data=sent).headers["location"].partition("?")[0] for _ in range(4)}
    assert there == {f"{RUN}/lots/1"}
    run = run_for(lot.ledger, "RU9-0")[1]
    assert [(one.verdict, one.scrapped, one.good) for one in run.lots] == [("accepted", 1, 499)]
    page = lot.text(f"{RUN}/lots/1")
    for words in ("Lot 1 accepted 499 discs may be put into stock; 1 disc of the sample was bad and taken out.",
                  "minor AQL 2.5 % normal 50 1 3 4 accepted", "Put 499 discs into stock", "1 pit minor"):  # fmt: skip
        assert words in page, words
    face = lot.client.get(f"{RUN}/lots/1/face.svg?side=A").text
    assert "pit, minor" in face
    assert lot.client.get(f"{RUN}/lots/1/face.svg?side=Q").status_code == 404
    assert lot.client.get(f"{RUN}/lots/2").status_code == 404


def test_every_disc_passed_by_needs_no_tick(lot: Any) -> None:
    form = Inspecting(lot, f"{LOT}?count=8")
    for _ in range(8):
        form.press("next")
    assert 'name="looked" value="on" checked' in form.page
    assert form.press("verdict", 303).startswith(f"{RUN}/lots/1?done=")


def test_a_lot_that_was_judged_meanwhile_is_not_judged_again(lot: Any) -> None:
    form = Inspecting(lot, f"{LOT}?count=100")
    made(inspect_lot(lot.ledger, "RU9-0", ANN, count=100, found={})[0])
    assert "was judged meanwhile" in form.press("verdict", 409, looked="on")


def refused(lot: Any, word: str = "grain", path: str = LOT) -> None:
    """A lot with three major, or critical, discs."""
    form = Inspecting(lot, path)
    for at in range(3):
        form.press(f"disc-{at}")
        form.press("place", word=word, radius_mm="80", angle_deg=str(10 * at))
    assert form.press("verdict", 303, looked="on").startswith(f"{RUN}/lots/1?done=")


def test_a_refused_lot_is_decided_once(lot: Any) -> None:
    refused(lot)
    page = lot.text(f"{RUN}/lots/1")
    assert "Lot 1 refused 497 discs are held until somebody decides; 3 discs of the sample were bad" in page
    where, action = f"{RUN}/lots/1", f"{RUN}/lots/1/decide"
    form = lot.form(where, action, disposition="released")
    answer = lot.client.post(action, data=form)
    assert answer.status_code == 422
    assert "is released for a reason; write it down" in answer.text
    form = lot.form(where, action, disposition="sorted")
    assert "give the count" in lot.client.post(action, data=form).text
    assert "leaves at most 497 good discs, not 498" in lot.client.post(action, data=form | {"good": "498"}).text
    there = {lot.client.post(action, data=form | {"good": "480"}).headers["location"] for _ in range(3)}
    assert len(there) == 1
    page = lot.text(there.pop())
    assert "Sorted disc by disc: 480 are good" in page
    assert "What becomes of it" not in page
    assert run_for(lot.ledger, "RU9-0")[1].to_stock == 480


def test_a_critical_defect_is_never_released(lot: Any) -> None:
    refused(lot, "locked-groove")
    page = lot.client.get(f"{RUN}/lots/1").text
    assert 'value="sorted"' in page
    assert 'value="released"' not in page
    sent = {"disposition": "released", "note": "they want it", "key": "k"}
    answer = lot.client.post(f"{RUN}/lots/1/decide", data=sent)
    assert answer.status_code == 409
    assert "A critical defect was found" in answer.text


def test_after_a_stop_somebody_says_what_was_done(lot: Any) -> None:
    for _ in range(7):
        made(inspect_lot(lot.ledger, "RU9-0", ANN, count=50, found={"major": 5})[0])
    page = lot.text(LOT)
    assert "Inspection is stopped" in page
    assert "5 lots were refused on tightened inspection." in page
    action = f"{LOT}/restart"
    form = lot.form(LOT, action)
    assert lot.client.post(action, data=form).status_code == 409  # without a word of what was done
    for _ in range(2):
        answer = lot.client.post(action, data=form | {"why": "the mould was cleaned"})
        assert answer.headers["location"] == LOT
    assert "major AQL 1 % tightened" in lot.text(LOT)


def test_who_may_inspect_and_who_decides(lot: Any, sign: Any) -> None:
    refused(lot, path=f"{LOT}?count=100")
    sign("keeper")
    form, decide = Inspecting(lot).fields | {"do": "next"}, f"{RUN}/lots/1/decide"
    # By hand, from the table of who may record what.
    for role, inspects, decides in (("press", True, False), ("packing", False, False), ("engineer", True, True)):
        sign(role)
        page = lot.client.get(LOT).text
        assert ('id="inspect"' in page) == inspects
        assert lot.client.post(LOT, data=form).status_code == (200 if inspects else 403)
        judged = lot.text(f"{RUN}/lots/1")
        assert ("Scrap all of it" in judged) == decides
        assert ("An engineer or a keeper decides" in judged) != decides
        answer = lot.client.post(decide, data={"disposition": "scrapped", "key": role})
        assert answer.status_code == (303 if decides else 403)
        restart = lot.client.post(f"{LOT}/restart", data={"class": "major", "why": "x", "key": f"{role}-r"})
        assert (restart.status_code == 403) != decides


def test_nothing_to_inspect(hall: Any) -> None:
    assert "has no disc that waits to be inspected" in hall.text(LOT)


def test_a_tape_has_no_face(lot: Any) -> None:
    from discwright.acts.runs import begin_run
    from discwright.works import events as e

    told = ({"id": "reel", "format": "tape", "quantity": 40, "due": "", "sides": []},)
    lot.ledger.append(Order(e.TitleTakenIn(name="Tape", editions=told), "Ann", "TP 1"))
    run = made(begin_run(lot.ledger, "TP 1/reel", {}, ANN, planned=40))
    made(lot.ledger.append(Order(r.FirstOff(verdict="pass", played="pass"), "Ann", part=run)))
    made(press_run(lot.ledger, run, 40, 40, ANN))
    page = lot.client.get(f"/runs/{run}/lot").text
    assert 'type="image"' not in page
    sent = lot.read(page, f"/runs/{run}/lot") | {"do": "bare", "word": "wrong-sleeve"}
    answer = lot.client.post(f"/runs/{run}/lot", data=sent)
    assert "1 critical" in answer.text
    assert "has no face to tap on" in lot.client.post(f"/runs/{run}/lot", data=sent | {"do": "place"}).text
