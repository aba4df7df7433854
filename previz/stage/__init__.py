"""Triangles, lamps and baked light: the set as a camera meets it. Front door: `build_stage`."""

from typing import TYPE_CHECKING

from previz.doors import door

if TYPE_CHECKING:
    from previz.stage.build import Stage, build_stage
    from previz.stage.dressing import Collision, Outline
    from previz.stage.lights import BEAM_EXPONENT, LUMINANCE, bulb_of, white_rgb
    from previz.stage.lit import LitGround, LitMesh, Station, Unlit
    from previz.stage.mesh import Lamp, Material, Mesh, Model, VehicleModel, Wheel
    from previz.stage.spread import cores

_HOMES = {
    "BEAM_EXPONENT": "lights",
    "LUMINANCE": "lights",
    "Collision": "dressing",
    "Lamp": "mesh",
    "LitGround": "lit",
    "LitMesh": "lit",
    "Material": "mesh",
    "Mesh": "mesh",
    "Model": "mesh",
    "Outline": "dressing",
    "Stage": "build",
    "Station": "lit",
    "Unlit": "lit",
    "VehicleModel": "mesh",
    "Wheel": "mesh",
    "build_stage": "build",
    "bulb_of": "lights",
    "cores": "spread",
    "white_rgb": "lights",
}

__all__ = [
    "BEAM_EXPONENT",
    "LUMINANCE",
    "Collision",
    "Lamp",
    "LitGround",
    "LitMesh",
    "Material",
    "Mesh",
    "Model",
    "Outline",
    "Stage",
    "Station",
    "Unlit",
    "VehicleModel",
    "Wheel",
    "build_stage",
    "bulb_of",
    "cores",
    "white_rgb",
]

__getattr__ = door(__name__, _HOMES)
