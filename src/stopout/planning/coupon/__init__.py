"""From a job to a test coupon."""
