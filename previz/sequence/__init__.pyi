from .order import Event as Event
from .order import running_order as running_order
