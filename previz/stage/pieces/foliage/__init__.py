"""Growing things as model makers have them: trees, bushes, hedges, tufts of grass, felled logs.

Leaves and needles are separate two-sided triangles. Their normals do not follow the triangle but lean outwards from the
crown, so that light wraps over the tree as over a soft body and inner leaves darken by what covers them.
"""

from previz.stage.pieces.foliage.broadleaves import broadleaf as broadleaf
from previz.stage.pieces.foliage.conifers import conifer as conifer
from previz.stage.pieces.foliage.growth import BARK as BARK
from previz.stage.pieces.foliage.growth import limb as limb
from previz.stage.pieces.foliage.hedges import hedge as hedge
from previz.stage.pieces.foliage.undergrowth import LOG_LENGTH as LOG_LENGTH
from previz.stage.pieces.foliage.undergrowth import TUFT_SPREAD as TUFT_SPREAD
from previz.stage.pieces.foliage.undergrowth import bush as bush
from previz.stage.pieces.foliage.undergrowth import log as log
from previz.stage.pieces.foliage.undergrowth import tuft as tuft
