"""The local web desk: it draws what the acts compute, and decides nothing."""
