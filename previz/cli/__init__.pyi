from .commands import app as app
from .program import EXIT_CODES as EXIT_CODES
from .running import main as main
