"""The micrographs whose errors stand in `docs/gauge.md`, one line each; all but the last at 0.5 µm a pixel."""

from __future__ import annotations

from micrograph import Drawn

_UNEVEN = {"gradient": 0.5, "vignette": 0.3}
_WORST = {"blur": 2.5, "noise": 0.08, "specks": 40, **_UNEVEN}

CASES: dict[str, Drawn] = {
    "plain": Drawn(),
    "no blur, no noise, even light": Drawn(blur=0.0, noise=0.0, gradient=0.0, specks=0),
    "blur 2.5 px": Drawn(blur=2.5),
    "noise 8 %": Drawn(noise=0.08),
    "light uneven by half": Drawn(gradient=0.5),
    "vignette": Drawn(vignette=0.6),
    "much dust": Drawn(specks=120),
    "a hair across": Drawn(hairs=1, seed=4),
    "lighter walls": Drawn(walls=0.7, land=0.3),
    "lying": Drawn(lying=True),
    "tilt 10°": Drawn(tilt_deg=10.0, size=(2000, 1500)),
    "tilt −10°, lying, lighter walls": Drawn(tilt_deg=-10.0, lying=True, walls=0.75, land=0.25, size=(2000, 1500)),
    "faint: a tenth of white": Drawn(walls=0.45, land=0.55, noise=0.08),
    "bright bottom line": Drawn(bottom=(6.0, 0.9)),
    "bottom line as bright as the land, all faults": Drawn(bottom=(5.0, 0.7), tilt_deg=6.0, **_WORST),
    "dark bottom line in lighter walls": Drawn(walls=0.7, land=0.35, bottom=(5.0, 0.1), lying=True),
    "walls darker toward the bottom": Drawn(shading=0.08),
    "land of 9 µm, blur 2.5 px": Drawn(widths=(60.0,), pitches=(69.0,), blur=2.5),
    "grooves of several widths": Drawn(widths=(46.0, 52.0, 61.0, 57.0), pitches=(121.0,)),
    "lateral waves": Drawn(lateral=(15.0, 170.0), tilt_deg=3.0),
    "vertical waves": Drawn(vertical=(5.0, 150.0)),
    "short waves, steep as the tip allows": Drawn(lateral=(8.0, 60.0), vertical=(1.5, 45.0)),
    "waves of both kinds, all faults": Drawn(
        lateral=(9.0, 140.0), vertical=(3.0, 110.0), tilt_deg=-5.0, size=(2000, 1500), **_WORST
    ),
    "all faults, tilt 10°": Drawn(tilt_deg=10.0, size=(2000, 1500), **_WORST),
    "1 µm a pixel": Drawn(um_per_pixel=1.0, size=(1000, 750)),
}
