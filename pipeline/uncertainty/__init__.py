"""Standard uncertainty: the law of propagation for any function, and the declared contributions of the methods."""
