"""The bottom as tiles and as a page, for programs that show one's own position on them."""

from layers.maps.picture.bottom_depths import BottomDepths as BottomDepths
from layers.maps.picture.pyramid import DEEPEST_ZOOM as DEEPEST_ZOOM
from layers.maps.picture.tile_files import in_degrees as in_degrees
from layers.maps.picture.writing import BottomPicture as BottomPicture
from layers.maps.picture.writing import Estimate as Estimate
