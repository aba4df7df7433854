from .board import Board as Board
from .inbox import Inbox as Inbox
from .inbox import Wish as Wish
from .looking import Asked as Asked
from .looking import watch_scene as watch_scene
from .server import served as served
