"""The bottom as tiles and as a page, for programs that show one's own position on them."""

from layers.maps.picture.bottom_depths import BottomDepths
from layers.maps.picture.pyramid import DEEPEST_ZOOM
from layers.maps.picture.tile_files import in_degrees
from layers.maps.picture.writing import BottomPicture, Estimate

__all__ = ["DEEPEST_ZOOM", "BottomDepths", "BottomPicture", "Estimate", "in_degrees"]
