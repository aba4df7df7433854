from .build import Stage as Stage
from .build import build_stage as build_stage
from .lit import LitGround as LitGround
from .lit import LitMesh as LitMesh
from .lit import Station as Station
from .lit import Unlit as Unlit
from .model import VehicleModel as VehicleModel
from .model import Wheel as Wheel
