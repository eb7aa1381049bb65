"""A seeded scenario of invented laboratories, projects and exports: same seed, same bytes."""
