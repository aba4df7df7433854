"""A small scene of three shots, and running orders of them."""

from pathlib import Path

SCENE = """\
title: Three looks
scale: 1:50
units: mm
set:
  table: {width: 600, depth: 400}
  road: {lane: 3.5 m full size, centre: [[-50, 200], [650, 200]]}
  backdrop: {distance: 390, height: 300, colour: "#9aa4ad"}
vehicle: {body: van, speed: 0.3 m/s}
lights:
  - {id: key, panel: [400, 300], at: [300, -200, 600], aim: [300, 200, 0], output: 4000 lm}
  - {id: room, ambient: 150 lx}
cameras:
  phone: {sensor: 1/1.3-type, lens: 6.9 mm, widest: f/1.8, smallest: f/1.8, nearest: 120, modes: [1080p240, 4k60]}
shots:
  - {id: wide, camera: phone, at: [300, -150, 120], aim: [300, 200, 20], focus: 380, start: 0.5 s, duration: DUR s,
     playback: RATE, capture: {rate: RATE, shutter: 180 deg}}
  - {id: near, camera: phone, at: [200, 20, 60], aim: [300, 200, 20], focus: 220, start: 0.5 s, duration: DUR s,
     playback: RATE, capture: {rate: RATE, shutter: 180 deg}}
  - {id: back, camera: phone, at: [420, 10, 60], aim: [300, 200, 20], focus: 220, start: 0.5 s, duration: DUR s,
     playback: RATE, capture: {rate: RATE, shutter: 180 deg}}
"""


def written(folder: Path, sequence: str = "", rate: str = "24 fps", duration: str = "1", **changes: str) -> Path:
    """The scene's file; changes: texts of it and what stands there instead."""
    text = SCENE.replace("RATE", rate).replace("DUR", duration) + sequence
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    path = folder / "three.yaml"
    path.write_text(text)
    return path
