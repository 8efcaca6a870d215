"""For a video: figures at 16 by 9 on a transparent ground, a strip chart that runs with the footage, captions."""
