"""Buildings: a detailed front with windows, door and shop front, plainer sides, a flat or gabled roof.

Drawn at full size in metres with a storey of about 3.2 m, front on the plane y = front facing −y, and brought to
the table by one factor.
"""

from previz.stage.pieces.buildings.building import building as building
from previz.stage.pieces.buildings.site import House as House
