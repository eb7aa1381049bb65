"""One module per record family: what an importer may hand in."""
