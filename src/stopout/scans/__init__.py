"""What a scan shows: where a coupon or piece lies in it, and what is measured of it."""
