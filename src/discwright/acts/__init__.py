"""One short function per thing a person can do; the command line and every other face call these."""
