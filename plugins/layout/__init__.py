"""The declarative engine: a TOML layout says how an export is recognised, read and turned into records."""
