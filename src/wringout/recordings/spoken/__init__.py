"""What was said: timed captions, readings and marks in them as candidates, and what a recogniser is prepared with."""
