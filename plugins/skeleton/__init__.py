"""The importer `mixledger new-importer` starts an author with; a whole one, held to the contract like any other."""
