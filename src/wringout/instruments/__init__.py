"""Instruments read from pictures: arrays of pixels in, speeds with a confidence out."""
