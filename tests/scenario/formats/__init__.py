"""Writers of the invented export formats: plain values in, bytes out, nothing random."""
