"""The work: take in, read, derive, judge, the order of the steps, and the command line."""
