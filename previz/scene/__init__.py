"""The shot as its maker wrote it. Front door: `read_scene`."""

from previz.physics.photometry import spot_profile
from previz.scene.cameras import SENSOR_FORMATS, Camera, Mode, Zoom
from previz.scene.changes import Changes
from previz.scene.fields import FileUnits, LightColour, Output
from previz.scene.kit import Kit, read_kit
from previz.scene.lights import Ambient, Diffuser, Panel, Spot
from previz.scene.model import Scene
from previz.scene.pieces import (
    PIECES,
    Broadleaf,
    Building,
    Bush,
    Card,
    Cone,
    Conifer,
    Container,
    Fence,
    LampPost,
    MeshPiece,
    Scatter,
    Sign,
    Standing,
    Stone,
    Wall,
)
from previz.scene.read import line_of, read_scene
from previz.scene.real_sizes import CONTAINER_SIZE, OVER_ALL, UNDERSIDES, VEHICLE_SIZES, WHEEL_DIAMETERS
from previz.scene.recording import recorded_area
from previz.scene.shots import WOBBLES, AimKey, Capture, Focus, FocusKey, Hand, PlaceKey, Shot, Shutter, Target
from previz.scene.stage_set import Backdrop, Ground, Join, Layer, Painting, Road, Set, Table
from previz.scene.vehicle import Launch, Ramp, TimedRun, Vehicle
from previz.scene.yaml_tree import plain_list

__all__ = [
    "CONTAINER_SIZE",
    "OVER_ALL",
    "PIECES",
    "SENSOR_FORMATS",
    "UNDERSIDES",
    "VEHICLE_SIZES",
    "WHEEL_DIAMETERS",
    "WOBBLES",
    "AimKey",
    "Ambient",
    "Backdrop",
    "Broadleaf",
    "Building",
    "Bush",
    "Camera",
    "Capture",
    "Card",
    "Changes",
    "Cone",
    "Conifer",
    "Container",
    "Diffuser",
    "Fence",
    "FileUnits",
    "Focus",
    "FocusKey",
    "Ground",
    "Hand",
    "Join",
    "Kit",
    "LampPost",
    "Launch",
    "Layer",
    "LightColour",
    "MeshPiece",
    "Mode",
    "Output",
    "Painting",
    "Panel",
    "PlaceKey",
    "Ramp",
    "Road",
    "Scatter",
    "Scene",
    "Set",
    "Shot",
    "Shutter",
    "Sign",
    "Spot",
    "Standing",
    "Stone",
    "Table",
    "Target",
    "TimedRun",
    "Vehicle",
    "Wall",
    "Zoom",
    "line_of",
    "plain_list",
    "read_kit",
    "read_scene",
    "recorded_area",
    "spot_profile",
]
