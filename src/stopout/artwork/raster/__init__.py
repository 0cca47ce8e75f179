"""Images: their tones, contours and smoothing."""
