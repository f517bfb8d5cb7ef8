"""Test plays for programs: the list, a report, what can be heard, and a capture that is sent."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
import soundfile

from discwright.desk import jobs


@pytest.fixture(autouse=True)
def _waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "AT_ONCE", 0)


@pytest.fixture
def play(metal: Any, make_play: Any, reported: Any) -> str:
    place = metal.client.app.state.desk.folder.plays.place
    return str(make_play(place, reported(), metal.cut(), title="OKW 0042", side="A"))


def test_the_list_and_the_report(metal: Any, play: str, make_play: Any, reported: Any) -> None:
    make_play(metal.client.app.state.desk.folder.plays.place, None)
    waiting, done = metal.client.get("/api/plays").json()
    assert (waiting["verdict"], waiting["defects"]) == ("", 0)
    assert (done["play"], done["verdict"], done["defects"], done["line"], done["side"]) == (play, "pass", 3, 0, "A")
    assert metal.client.get(f"/api/plays/{play}").json() == reported()
    nothing = metal.client.get(f"/api/plays/{waiting['play']}")
    assert nothing.json() == {"sentence": "This play was not inspected yet; look at its job."}
    assert nothing.status_code == 404


def test_three_clips_of_one_length_that_begin_at_one_sample(metal: Any, play: str) -> None:
    told = metal.client.get(f"/api/plays/{play}/clips?at_s=5.85").json()
    assert (told["start_s"], told["seconds"], told["matched_db"]) == (4.85, 2.5, 6.0)
    sounds = []
    for clip in told["clips"]:
        answer = metal.client.get(clip["url"])
        assert answer.headers["content-type"] == "audio/wav"
        sounds.append(soundfile.read(io.BytesIO(answer.content))[0])
    assert [one.shape for one in sounds] == [(20_000, 2)] * 3
    assert np.abs(sounds[0] - sounds[1]).max() > 0.1


def test_refusals_are_sentences(metal: Any, play: str) -> None:
    for path, status in ((f"/api/plays/{play}/clips?at_s=500", 422), ("/api/plays/0000000000000099", 404),
                         (f"/api/plays/{play}/clips/x.wav?frame=0&frames=1", 422)):  # fmt: skip
        answer = metal.client.get(path)
        assert answer.status_code == status
        assert answer.json()["sentence"].endswith(".")
    wanted = {"part": metal.cut(), "upload": "0" * 32}
    assert metal.client.post("/api/plays", json=wanted).status_code == 422
    assert metal.client.post("/api/plays", json=wanted | {"folder": "x"}).status_code == 422
