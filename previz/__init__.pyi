from .delivery import Slate as Slate
from .delivery import compared as compared
from .delivery import deliver_clip as deliver_clip
from .delivery import deliver_comparison as deliver_comparison
from .delivery import deliver_page as deliver_page
from .delivery import deliver_still as deliver_still
from .errors import MachineError as MachineError
from .errors import PrevizError as PrevizError
from .errors import SceneErrors as SceneErrors
from .frames import Frame as Frame
from .frames import Look as Look
from .frames import render_frames as render_frames
from .predictions import Finding as Finding
from .predictions import Predictions as Predictions
from .predictions import predict as predict
from .scene import Scene as Scene
from .scene import Shot as Shot
from .scene import read_scene as read_scene
from .stage import Stage as Stage
from .stage import build_stage as build_stage

__version__: str
