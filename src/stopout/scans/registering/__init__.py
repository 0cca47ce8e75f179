"""Where a coupon lies in a scan."""
