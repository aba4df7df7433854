"""Triangles, lamps and baked light: the set as a camera meets it. Front door: `build_stage`."""

from previz.stage.build import LitGround, LitMesh, Stage, build_stage
from previz.stage.dressing import Collision, Outline
from previz.stage.lights import BEAM_EXPONENT, LUMINANCE, bulb_of, white_rgb
from previz.stage.mesh import Lamp, Material, Mesh, Model, VehicleModel, Wheel
from previz.stage.spread import cores
from previz.stage.stations import Station

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
    "VehicleModel",
    "Wheel",
    "build_stage",
    "bulb_of",
    "cores",
    "white_rgb",
]
