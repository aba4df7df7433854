from .between import Between as Between
from .between import continuity as continuity
from .joins import Join as Join
from .joins import joins_of as joins_of
