from .between import Between as Between
from .between import between_shots as between_shots
from .between import continuity as continuity
from .joins import Join as Join
from .joins import joins_of as joins_of
