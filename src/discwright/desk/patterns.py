"""What the page of patterns shows: one of every element, in every state, with invented words."""

from __future__ import annotations

from discwright.desk.page_parts import Fact, FindingRow, JobRow, Option


def sample_findings() -> tuple[FindingRow, ...]:
    """A stop, a warning that is accepted, and two notes, one without a place."""
    return (
        FindingRow(
            1, "stop", "slope", "12:19.8", "411.0", "91.00 mm", "47.2 against 45 deg",
            "Lower the side or trim this band 0.7 dB, or move the band outward.", "", 739.8,
            "lower the side to +2.5 dB", (("level", "fixed"), ("level_db", "2.5")),
        ),
        FindingRow(
            2, "warn", "sibilance", "17:02.4", "568.0", "74.10 mm", "36.7 against 35 % of the tip's reach",
            "One burst of sibilance will splatter with the spherical-18 tip.", "Heard and left: it is the singer's.",
            1022.4,
        ),
        FindingRow(
            3, "note", "vertical bass", "3:10.0", "105.6", "134.20 mm", "11 against 10 %",
            "The bass lifts the tip here; blended to lateral below 150 Hz it would save radius.", "", 190.0,
            "blend the bass below 150 Hz", (("bass_blend_hz", "150"),),
        ),
        FindingRow(4, "note", "mono", "", "", "", "", "Both channels are alike: cut as lateral.", "", None),
    )  # fmt: skip


def sample_jobs() -> tuple[JobRow, ...]:
    """A job in every state."""
    return (
        JobRow("sample-1", "plan lp side A", "waiting"),
        JobRow("sample-2", "plan lp side B", "running", "laying the spiral", 43, "about 12 s"),
        JobRow("sample-3", "lay out lp", "done", "", 100, "", "", "/patterns"),
        JobRow("sample-4", "what if: lp side A", "failed", "", 20, "", "The audio was moved; bring it back."),
        JobRow("sample-5", "write control.wav of lp side A", "stopped", "", 60),
    )


def sample_facts() -> tuple[Fact, ...]:
    """Numbers as a side page has them."""
    return (
        Fact("level", "+3.2 dB", "re a full-scale 1 kHz sine in both channels at 5 cm/s peak lateral"),
        Fact("room to spare", "2.5 mm", "before the last radius"),
        Fact("mean pitch", "115.0 µm", "221 lines per inch"),
    )


def sample_options() -> tuple[Option, ...]:
    """A choice of three."""
    return (
        Option("spherical-18", "spherical-18", True),
        Option("elliptical-8", "elliptical-8"),
        Option("none", "none"),
    )
