"""What the shop book says of a job."""
