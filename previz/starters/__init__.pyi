from .cameras import TYPICAL as TYPICAL
from .cameras import camera_text as camera_text
from .copying import files_of as files_of
from .copying import named_files as named_files
from .fitting import Wish as Wish
from .fitting import table_of as table_of
from .scenes import STARTS as STARTS
from .scenes import starting_scene as starting_scene
