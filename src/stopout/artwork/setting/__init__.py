"""What a job sets itself: words, rules, frames and codes, laid out on the blank as seen."""
