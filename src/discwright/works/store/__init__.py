"""Where the ledger is kept: the only package that knows a database."""
