"""Coupons: test pieces that are laid out, measured and fitted to learn the shop's own numbers."""

from stopout.coupons.layout import CouponLayout, layout_from_dict, layout_to_dict

__all__ = ["CouponLayout", "layout_from_dict", "layout_to_dict"]
