"""Pictures of a plan: the mask of each coat, and the preview a person checks the plan by."""

from stopout.pictures.cut import cut_svg
from stopout.pictures.mask import mask_png, mask_svg
from stopout.pictures.piece.preview import preview_png
from stopout.pictures.piece.scene import CloseUp, CoatScene, PreviewScene

__all__ = ["CloseUp", "CoatScene", "PreviewScene", "cut_svg", "mask_png", "mask_svg", "preview_png"]
